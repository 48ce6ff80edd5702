"""A pause forgotten over tagged animals: the phone says so where they are looked at, and one touch counts them in.

What a pause does to a stay is our own (README, "In the yards").
"""

from pathlib import Path

from neckyoke.bridge.events import Flag
from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import Browser
from tests.bridge.page.shed import Shed
from tests.bridge.page.touching import Finger

SHEET = 'title = "Steers"\n[[treatments]]\nname = "drench"\nml_per_kg = 0.1\n[[draft]]\npen = "all"\n'
YARD = Yard.named("calm", seed=5, animals=6)


def test_animals_that_passed_in_a_pause_are_counted_in_by_one_touch(tmp_path: Path, browser: Browser) -> None:
    with Shed(tmp_path) as shed:
        shed.say("begin", text=SHEET)
        shed.weigh(YARD, 2)
        shed.say("pause")
        browser.resize()
        browser.go(shed.url)
        finger = Finger(browser)
        finger.seen("Job 1 is paused.", "#paused")
        assert browser.run("return [...document.querySelectorAll('#paused button')].map((one) => one.innerText)") == [
            "Go on"
        ]
        shed.weigh(YARD, 3, first=2)
        finger.seen("3 animals with a tag have passed while it was paused, and count nowhere.", "#paused")
        assert [Flag.PAUSED in shed.weighings()[number].flags for number in range(1, 6)] == [False] * 2 + [True] * 3
        finger.tap("Count them in", "#paused button")
        browser.until("document.querySelector('#paused').hidden")
        assert finger.touches == 1
        stays = shed.weighings()
        assert [stays[number].job_number for number in range(1, 6)] == [1, 2, 3, 4, 5]
        assert all(one.treatments and one.pen == "all" for one in stays.values())
        unshown = (Flag.DOSE_DOUBTFUL,)
        assert [stays[number].flags for number in range(1, 6)] == [(), (), unshown, unshown, unshown]

        finger.tap("Undo", "#toast button")
        finger.seen("3 animals", "#paused")
        assert browser.run("return document.querySelector('#trouble').hidden"), (
            "the pause is told of once, with its buttons"
        )
        finger.tap("4", "#rows button")  # the first of them were no more than tried out: from its card on
        finger.tap("Count in from here", "#card button")
        finger.seen("Undo", "#toast")
        stays = shed.weighings()
        assert [stays[number].job_number for number in range(1, 6)] == [1, 2, None, 3, 4]
        finger.tap("Undo", "#toast button")
        finger.tap("Back", "#card button")
        finger.seen("3 animals", "#paused")
        finger.tap("Go on without them", "#paused button")
        finger.seen("Job 1 was paused.", "#paused")
        finger.tap("Job", "nav a")
        finger.tap("Count them in", "#openjob button")
        browser.until("document.querySelector('#paused').hidden")
        assert [shed.weighings()[number].job_number for number in range(1, 6)] == [1, 2, 3, 4, 5]
        browser.go("about:blank")
