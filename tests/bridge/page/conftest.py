"""A yard, and one browser for all of its tests (starting one takes seconds)."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import CODE, Yard

KNOWS = f"if (location.protocol === 'http:') localStorage.code ??= '\"{CODE}\"'"


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    made = Yard(tmp_path).begin()
    yield made
    made.end()


@pytest.fixture(scope="session")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with Browser(tmp_path_factory.mktemp("browser")) as made:
        yield made


@pytest.fixture
def browser(window: Browser) -> Iterator[Browser]:
    """A phone that knows the code from before."""
    window.revive()
    knows = window.cdp("Page.addScriptToEvaluateOnNewDocument", source=KNOWS)
    yield from _looked_after(window)
    window.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=knows["identifier"])


@pytest.fixture
def stranger(window: Browser) -> Iterator[Browser]:
    """A phone that opens the page for the first time."""
    window.revive()
    yield from _looked_after(window)


def _looked_after(window: Browser) -> Iterator[Browser]:
    yield window
    window.go("about:blank")
    assert [one for one in window.complaints() if "net::ERR_" not in one] == []  # some tests cut the line
