"""The page that says why a weighing came out so: true, within a terminal, and whole."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from neckyoke.bridge.events import Clock, Flag, Weighing, Weight
from neckyoke.bridge.station.explain import LINE, NAME, ROWS, WIDTH, Trace, explain
from neckyoke.bridge.station.instructions import About, Identify
from neckyoke.bridge.station.platform.happenings import Reckoned
from neckyoke.bridge.station.record import tag
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.bridge.station.tags.verdict import Candidate, Case, Verdict
from neckyoke.bridge.station.weight.grading import Doubts
from neckyoke.protocols.tagcode import TagCode
from tests.bridge.station.test_station_events import A, B, feed, make, reads, stands

ON = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def page(number: int, *asked: Identify) -> str:
    """Explain one of two stays, the first with a tag that stays to the end of the second."""
    station = make()
    station.keep_traces()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5), reads(B, 13.5, 14.5), stands(20, 30), reads(B, 20.5, 29))
    for one in asked:
        station.ask(31.0, one)
    lines = station.explain(str(number))
    assert lines is not None
    return "\n".join(lines)


def test_a_page_tells_weight_tags_points_and_what_decided() -> None:
    text = page(1)
    for word in ("Number 1: 318", "982 000000112200", "first weight", "heard in 10 of 10 s", "Decided: "):
        assert word in text


def test_what_is_not_known_has_no_page() -> None:
    station = make()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5))
    assert station.explain("1") is None, "no trace was kept"
    station.keep_traces()
    assert station.explain("nobody") is None


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (Identify(TagCode(999, 7), None, About(number=1)), "Decided: a person said so: tag 999000000000007."),
        (Identify(None, None, About(number=1)), "Decided: a person said so: no tag."),
        (Identify(TagCode(999, 7), "103", About(number=1)), "so: tag 999000000000007, visual number 103."),
    ],
)
def test_what_a_person_said_is_told_and_nothing_is_counted_behind_it(said: Identify, told: str) -> None:
    text = page(1, said)
    assert told in text
    assert "behind" not in text


def test_the_next_best_way_is_told_with_whom_the_tag_would_go_to() -> None:
    assert f"Next best: {A} here and this one to number 1, " in page(2)
    station = make()
    station.keep_traces()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5), stands(18, 28), reads(A, 18.5, 24.0), stands(31, 41))
    first, second = (station.explain(number) or [] for number in "12")
    assert "Decided, with doubt: number 2 had no tag and may be its owner" in " ".join(first)
    assert any(re.search(r"\(\d\d\.\d % sure\)\.$", line) for line in first)
    assert any(line.startswith("Next best: no tag here and this one to number 2, ") for line in first)
    assert "it is number 1's" in "\n".join(second)
    assert "Tags are assigned so that all animals together have the most points." in second


def a_busy_case(tags: int, link: str) -> tuple[Trace, Case]:
    """Make a weighing with every flag, amended often, and tags heard on links with long names."""
    flags = tuple(flag for flag in Flag if flag is not Flag.BY_PERSON)
    codes = [TagCode(999, 112233 + n) for n in range(tags)]
    weighing = Weighing(
        weighing="w", revision=3, station="crush", number=1234, tag=tag(codes[0], reads=3),
        weight=Weight(kg=1307.99, grade="good", first_kg=1307.99), on=ON, settled=ON, clock=Clock.SYNCHRONISED,
        off=ON + timedelta(seconds=9), flags=flags, animal={"visual": "v" * 64},
        why="999000000494260 fits, as the stays beside it show: one tag is clearly ahead",
    )  # fmt: skip
    parts = {f"{link}: its place in the queue": 3.0, f"{link}: came past again later": -9.0, "a stay has a tag": 3.0}
    candidates = tuple(
        Candidate(Pass(code, [Detection(t, link, "platform") for t in (1.0, 8.0)]), Score(dict(parts)), 1233)
        for code in codes
    )
    verdict = Verdict(1234, codes[0], rule="heard only ahead of the platform: by its place in the queue")
    curve = [(n / 10, 1300.0 if 5 <= n < 95 else 0.0) for n in range(-20, 120)]
    trace = Trace(curve, 9.0, [(float(n), weighing) for n in range(2)])
    return trace, Case(Span(1234, 0.0, 9.5, 1), candidates, 1.25, codes[-1], 1235, verdict)


@pytest.mark.parametrize("link", ["panel", "a-reader-with-the-longest-name-x"])
@pytest.mark.parametrize("tags", [1, 7])
def test_a_page_fits_a_terminal_and_nothing_on_it_is_cut(tags: int, link: str) -> None:
    trace, case = a_busy_case(tags, link)
    lines = explain(trace, case)
    assert max(map(len, lines)) <= LINE
    whole = " ".join(" ".join(lines).split())
    for flag in trace.revisions[-1][1].flags:
        assert flag in whole
    for told in ("came past again later", "within 1 % of 1308", "first weight, 1307.99 kg ^", "1.2 points behind."):
        assert told in whole
    assert ("and 5 more" in whole) == (tags == 7)
    assert "Revision 3, 0 s after it left: 999000000112233 because 999000000494260 fits" in whole
    assert str(case.rival) in whole


def test_a_page_of_a_day_fits_a_terminal() -> None:
    station = make()
    station.keep_traces()
    animals = (stands(20.0 * n, 20.0 * n + 12) for n in range(1, 9))
    feed(station, *animals, *(reads(TagCode(999, n), 20.0 * n - 6, 20.0 * n + 16) for n in range(1, 9)))
    for number in range(1, 9):
        lines = station.explain(str(number))
        assert lines is not None
        assert len(lines) <= ROWS
        assert max(map(len, lines)) <= LINE


def drawn(length_s: float, curve: list[tuple[float, float]], revisions: int = 1) -> tuple[dict[str, str], list[str]]:
    """Explain a stay of 400 kg that began at 0; return the rows of its picture by name, and the whole page."""
    trace, case = a_busy_case(1, "panel")
    weight = Weight(kg=400.0, grade="good", first_kg=400.0)
    weighings = [
        trace.revisions[-1][1].model_copy(
            update={"revision": n + 1, "weight": weight, "flags": (), "why": f"reason {n}"}
        )
        for n in range(revisions)
    ]
    trace = Trace(curve, 10.0, [(length_s + n, one) for n, one in enumerate(weighings)])
    lines = explain(trace, replace(case, span=Span(1234, 0.0, length_s, 1)))
    rows = {line[:NAME].strip(): line[NAME + 1 :].ljust(WIDTH) for line in lines[2:6] if line}
    return rows, lines


@pytest.mark.parametrize(
    ("length_s", "step_s"),
    [
        (1, 1),
        (10, 2),
        (20, 5),
        (40, 10),
        (90, 20),
        (170, 20),
        (240, 30),
        (500, 60),
        (560, 120),
        (2000, 300),
        (6000, 1800),
    ],
)
def test_seconds_are_written_where_they_are_as_many_as_can_be_read(length_s: int, step_s: int) -> None:
    rows, _ = drawn(length_s, [])
    found = {int(mark[0]): mark.start() for mark in re.finditer(r"-?\d+", rows["seconds"])}
    whole = length_s + 8
    places = {n: int((n + 4) / whole * WIDTH) for n in range(-step_s, whole, step_s) if -4 <= n < length_s + 4}
    assert found == {n: at for n, at in places.items() if at + len(str(n)) <= WIDTH}
    assert 2 <= len(found) <= 10
    feet = [place for place, mark in enumerate(rows[""]) if mark == "|"]
    assert feet == [int(t / whole * WIDTH) for t in (4, 4 + length_s)]


def test_weights_are_drawn_in_eighths_of_the_highest_and_where_they_are_within_a_hundredth() -> None:
    levels = [(0, 0.0), (5, 100.0), (10, 200.0), (15, 396.5), (20, 400.0)]
    curve = [(t / 10, next(kg for end, kg in levels if t < 10 * end or end == 20)) for t in range(-40, 240)]
    rows, _ = drawn(20, curve)
    at = {t: int((t + 4.25) / 28 * WIDTH) for t in (-2, 2, 7, 12, 17)}
    assert [rows["weight, top 400 kg"][at[t]] for t in at] == [" ", "\u2582", "\u2584", "\u2588", "\u2588"]
    assert [rows["within 1 % of 400"][at[t]] for t in at] == [" ", " ", " ", "=", "="]
    nothing, _ = drawn(20, [])
    assert nothing["weight, top 0 kg"].strip() == ""
    odd, _ = drawn(20, [(t / 10, kg * 0.989) for t, kg in curve])
    assert "=" not in odd["within 1 % of 400"]


@pytest.mark.parametrize("revisions", [1, 2, 3, 30])
def test_the_latest_revisions_are_told_in_order_as_many_as_fit(revisions: int) -> None:
    _, lines = drawn(20, [], revisions)
    told = [int(found[1]) for line in lines if (found := re.match(r"Revision (\d+), (\d+) s after", line))]
    assert told == list(range(revisions - len(told) + 1, revisions + 1)) if revisions > 1 else told == []
    assert len(lines) <= ROWS
    assert len(told) == revisions or len(lines) > ROWS - 2 or revisions == 1
    assert all(f"    because reason {n - 1}" in lines for n in told)


def reckoned(about: Reckoned) -> str:
    trace, case = a_busy_case(1, "panel")
    trace.reckoned = about
    return " ".join(" ".join(explain(trace, case)).split())


def test_a_page_tells_how_far_off_the_weight_may_be_and_by_what() -> None:
    doubts = Doubts(sway_percent=0.24, step_percent=0.4, trend_percent=0.1, apart_percent=0.001)
    text = reckoned(Reckoned(doubts))
    # the root of the sum of squares of 0.067, 0.033 and 0.02; Student's t of three degrees of freedom, from scipy
    assert "error about 0.08 % (sway 0.07, step 0.03, trend 0.02), over 1 % in 0.1 of 100 " in text
    assert "error about 0.00 %, over 1 % in 0.0 of 100 " in reckoned(Reckoned(Doubts()))
    assert "error about" not in reckoned(Reckoned())


def test_it_tells_what_may_lie_there_what_limits_the_grade_and_what_became_of_a_slow_display() -> None:
    unsure = Doubts(zero_percent=1.3)
    assert "; 1.3 % may lie there unseen" in reckoned(Reckoned(unsure))
    assert "; how it stood allows no better than fair" in reckoned(Reckoned(unsure, "fair"))
    assert "allows" not in reckoned(Reckoned(unsure, "good"))
    assert "; the display, 0.7 s late, is undone" in reckoned(Reckoned(unsure, delay_s=0.73, undone=True))
    assert "; the display, 0.7 s late, had arrived" in reckoned(Reckoned(unsure, delay_s=0.73))


def test_a_station_tells_it_of_its_own_weights() -> None:
    assert re.search(r"\nerror about 0\.\d\d % \(.*\), over 1 % in 0\.\d of 100", page(1))
