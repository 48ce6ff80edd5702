"""The browser of the tests: one that died under a test is begun anew for the next."""

import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.bridge.page.browser import Browser

PAGE = "data:text/html,<title>Larkmoor</title>"


def _crash(browser: Browser) -> None:
    browser.cdp("Page.crash")


def _kill(browser: Browser) -> None:
    browser.kill(signal.SIGKILL)
    browser.run("return 1")


@pytest.mark.parametrize("die", [_crash, _kill])
def test_it_says_that_it_died_and_is_begun_anew(tmp_path: Path, die: Callable[[Browser], None]) -> None:
    with Browser(tmp_path) as browser:
        with pytest.raises((AssertionError, BrokenPipeError)):
            die(browser)
        browser.revive()
        browser.go(PAGE)
        browser.run("window.kept = true")
        browser.revive()
        assert browser.run("return [document.title, window.kept, innerWidth >= 390]") == ["Larkmoor", True, True]
