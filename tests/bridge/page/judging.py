"""axe-core, an outside judge of pages (Deque Systems, MPL-2.0): it holds them to WCAG 2 A and AA, and best practice.

It comes from the npm registry (tests/support/npm.py).
"""

import json
from typing import Any

import pytest

from tests.bridge.page.browser import Browser
from tests.support.npm import npm_packages


@pytest.fixture(scope="session")
def axe(pytestconfig: pytest.Config) -> str:
    return (npm_packages(pytestconfig) / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


JUDGE = """
return window.axe ? axe.run(arguments[0], arguments[1]).then((found) => arguments[2].map((kind) => found[kind])) : null;
"""


def judged(
    browser: Browser, axe: str, options: dict[str, Any], where: str = "html", kinds: tuple[str, ...] = ("violations",)
) -> list[Any]:
    """Let axe look, and give its results of some kinds.

    It is brought into each page once, for it is half a megabyte; it need not fetch style sheets again, nor make up
    selectors.
    """
    options = {"selectors": False, "preload": False, **options}
    found: list[Any] | None = browser.run(JUDGE, where, options, kinds)
    if found is None:
        browser.run(axe)
        found = browser.run(JUDGE, where, options, kinds)
    assert found is not None
    return found


def complaints(browser: Browser, axe: str) -> list[str]:
    """Return what axe holds against what is seen now, by WCAG 2 A and AA and best practice."""
    (found,) = judged(browser, axe, {"resultTypes": ["violations"]})
    return [
        f"{one['impact']}: {one['id']}: {one['help']}: {json.dumps([node['html'][:120] for node in one['nodes']])}"
        for one in found
    ]
