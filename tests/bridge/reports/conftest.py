"""Weighings for the reports' tests."""

from collections.abc import Callable

import pytest

from neckyoke.bridge.events import Event, Treatment
from tests.bridge.reports.stays import drench, make_event


@pytest.fixture
def event() -> Callable[..., Event]:
    return make_event


@pytest.fixture
def dose() -> Callable[..., Treatment]:
    return drench
