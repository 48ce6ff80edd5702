"""A yard, and one browser for all of its tests (starting one takes seconds)."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import Yard


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
    yield window
    window.go("about:blank")
    assert [one for one in window.complaints() if "net::ERR_" not in one] == []  # some tests cut the line
