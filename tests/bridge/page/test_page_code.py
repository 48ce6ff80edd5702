"""The phone is let in once, when the page is first opened: by the code, or by a link that has it."""

import pytest

from tests.bridge.page.asking import ask, post
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import CODE, Yard, a_mob, view, weighing

LOOKS = ("/tally", "/export.csv", "/export.jsonl", "/animals/999000000000001", "/herd", "/herd/x", "/rows", "/changes",
         "/weighings/crush/x")  # fmt: skip
OPEN = "document.querySelector('dialog[open]')"
LATE = """
window.sent = window.fetch;
const late = new Promise((come) => (window.come = come));
const turn = () => new Promise((over) => setTimeout(over)); // all that waits for the answer has had it
window.fetch = async (path, ...more) => {
  const had = await sent(path, ...more);
  if (path !== "code") return had;
  const said = await had.json();
  await late;
  const json = async () => (turn().then(() => (window.had = true)), said);
  return { ok: had.ok, status: had.status, headers: had.headers, json };
};
"""
"""The box is slow to say whether the code of the link is the right one."""


def _type_code(browser: Browser, code: str) -> None:
    browser.run("document.querySelector('[name=code]').value = arguments[0]", code)
    browser.run("document.querySelector('[name=code]').form.requestSubmit()")


def test_the_code_is_asked_for_when_the_page_is_first_opened_and_never_again(yard: Yard, stranger: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    stranger.go(yard.url)
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    _type_code(stranger, "111111111")
    stranger.until(f"{OPEN}.innerText.includes('That is not the code')")
    _type_code(stranger, "482 913 067")
    stranger.until(f"!{OPEN}")

    for text in ("lame, near hind", "second note"):
        stranger.click("[data-act=note]")
        stranger.type("dialog[open] textarea", text)
        stranger.click("dialog[open] [type=submit]")
        stranger.until("document.querySelector('#rows').innerText.includes(arguments[0])", text)
        stranger.until(f"!{OPEN}")
    stranger.go(yard.url)
    stranger.until("document.querySelectorAll('#rows li').length === 1")
    assert not stranger.run(f"return {OPEN} !== null")
    assert [one["text"] for one in yard.asked] == ["lame, near hind", "second note"]
    assert len({one["id"] for one in yard.asked}) == 2
    (refused,) = stranger.complaints()
    assert "401" in refused


def test_who_only_looks_sees_now_and_is_asked_again_when_it_matters(yard: Yard, stranger: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    yard.show(view("empty", 0.0))
    stranger.go(yard.url)
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    stranger.click("dialog[open] .back")
    stranger.until("localStorage.getItem('looks') === 'true'")  # noted once the question is closed: nobody is as quick
    stranger.go("about:blank")
    stranger.go(yard.url)
    stranger.until("document.querySelector('#verdict').innerText === 'Next animal'")
    assert not stranger.run(f"return {OPEN} !== null")

    stranger.run("location.hash = '#animals'")
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    _type_code(stranger, CODE)
    stranger.until(f"!{OPEN}")
    stranger.until("document.querySelector('#herdcount').innerText.includes('The herd book is empty')")
    assert all("401" in one for one in stranger.complaints())


def test_a_link_with_the_code_lets_in_and_does_not_keep_it_in_sight(yard: Yard, stranger: Browser) -> None:
    a_mob(yard, 4)
    stranger.go(f"{yard.url}#code={CODE}")
    stranger.until("document.querySelectorAll('#rows li').length > 3")
    assert stranger.run("return location.href") == yard.url
    stranger.run("location.hash = '#job'")
    stranger.until("document.querySelectorAll('#mob li').length > 3")
    assert not stranger.run(f"return {OPEN} !== null")


def test_a_link_with_a_code_that_has_ended_asks_for_the_new_one(yard: Yard, stranger: Browser) -> None:
    stranger.go(f"{yard.url}#code=000000000")
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    assert all("401" in one for one in stranger.complaints())


def _late(yard: Yard, browser: Browser, code: str) -> str:
    made = browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=LATE)
    browser.go(f"{yard.url}#code={code}")
    return str(made["identifier"])


def test_a_late_answer_to_the_link_draws_nothing_anew_under_the_fingers(yard: Yard, stranger: Browser) -> None:
    made = _late(yard, stranger, CODE)
    stranger.until("document.querySelector('#site').innerText === 'larkmoor'")
    stranger.run("location.hash = '#animals'")
    stranger.until("document.querySelector('#herdcount').innerText.includes('The herd book is empty')")
    stranger.run("location.hash = '#job'")
    stranger.until("!document.querySelector('#job').hidden")
    stranger.run("window.held = document.querySelector('#jobpart')")  # made anew whenever the view is entered
    stranger.run("window.come()")
    stranger.until("window.had")
    assert stranger.run("return window.held.isConnected")
    stranger.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made)


def test_a_late_no_to_the_link_leaves_the_code_that_was_typed_meanwhile(yard: Yard, stranger: Browser) -> None:
    made = _late(yard, stranger, "000000000")
    stranger.run("location.hash = '#animals'")
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    stranger.run("window.fetch = sent")
    _type_code(stranger, CODE)
    stranger.until(f"!{OPEN}")
    stranger.run("window.come()")
    stranger.until("window.had")
    assert stranger.run("return localStorage.getItem('code')") == f'"{CODE}"'
    assert not stranger.run(f"return {OPEN} !== null")
    stranger.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made)
    assert all("401" in one for one in stranger.complaints())


CUT = """
window.sent = window.fetch;
window.fetch = async (path, ...more) => {
  const had = await sent(path, ...more);
  if (path !== "code") return had;
  setTimeout(() => (window.had = true), 100);
  return { ok: had.ok, status: had.status, headers: had.headers, json: () => Promise.reject(new TypeError("cut off")) };
};
"""
"""The answer about the code of the link is cut off, as when the page is left before it has come."""


def test_an_answer_that_is_cut_off_refuses_no_code(yard: Yard, stranger: Browser) -> None:
    made = stranger.cdp("Page.addScriptToEvaluateOnNewDocument", source=CUT)
    stranger.go(f"{yard.url}#code={CODE}")
    stranger.until("window.had")
    assert stranger.run(KEPT) == CODE
    stranger.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made["identifier"])


KEPT = "return JSON.parse(localStorage.getItem('code'))"
SEEN = "document.querySelector('#site').innerText === 'larkmoor'"
ANSWERS = """
window.answers = 0;
window.sent = window.fetch;
window.fetch = async (path, ...more) => {
  const had = await sent(path, ...more);
  if (path === "code") setTimeout(() => (window.answers += 1), 100);
  return had;
};
"""
"""Counts what the box said of codes, when all that waits for it has had it."""


def _let_in(yard: Yard, browser: Browser) -> None:
    browser.go(f"{yard.url}#code={CODE}")
    browser.until(f"{SEEN} && localStorage.getItem('code')")
    browser.go("about:blank")


def _counted(browser: Browser) -> str:
    return str(browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=ANSWERS)["identifier"])


@pytest.mark.parametrize("link", ["000000000", "%2%2%2%2%2", "%E0%A4%A4%E0%A4%A4%E0%A4%A4", "12", ""])
def test_a_bad_link_takes_no_good_code_away(yard: Yard, stranger: Browser, link: str) -> None:
    _let_in(yard, stranger)
    made = _counted(stranger)
    stranger.go(f"{yard.url}#code={link}")
    stranger.until(SEEN)
    if link == "000000000":
        stranger.until("window.answers === 1")
    assert stranger.run(KEPT) == CODE
    assert stranger.run("return location.href") == yard.url, "nothing of it is left in sight"
    assert not stranger.run(f"return {OPEN} !== null")
    stranger.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made)
    assert all("401" in one for one in stranger.complaints()), "no error of the page's own"


def test_a_link_that_cannot_be_read_is_no_code_and_it_is_asked_for(yard: Yard, stranger: Browser) -> None:
    stranger.go(f"{yard.url}#code=%2%2%2%2%2")
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    assert stranger.run("return location.href") == yard.url
    assert stranger.complaints() == []


@pytest.mark.parametrize("known", [False, True])
def test_a_code_that_was_not_looked_at_after_too_many_wrong_ones_is_not_kept(
    yard: Yard, stranger: Browser, *, known: bool
) -> None:
    if known:
        _let_in(yard, stranger)
    guess = 100000000
    while ask(yard, "POST", "/code", code=str(guess)).status != 429:
        guess += 1
    made = _counted(stranger)
    stranger.go(f"{yard.url}#code=000000000")
    stranger.until(f"{SEEN} && window.answers === 1")
    if known:
        assert stranger.run(KEPT) == CODE
        assert not stranger.run(f"return {OPEN} !== null")
    else:
        stranger.until(f"{OPEN}?.innerText.includes('Too many wrong codes')")
        assert not stranger.run(KEPT)
    stranger.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made)
    assert all("429" in one for one in stranger.complaints())


def test_a_link_opened_in_an_open_tab_is_taken_and_the_tab_stays_where_it_was(yard: Yard, stranger: Browser) -> None:
    a_mob(yard, 4)
    stranger.go(yard.url)
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    stranger.click("dialog[open] .back")
    stranger.run("location.hash = '#box'")
    stranger.until("document.documentElement.dataset.view === 'box'")
    stranger.run("window.held = document.querySelector('#box').firstElementChild")
    stranger.run("location.hash = arguments[0]", f"#code={CODE}")
    stranger.until("document.querySelector('#toast').innerText.includes('That is the code')")
    assert stranger.run(KEPT) == CODE
    assert stranger.run("return location.href") == f"{yard.url}#box"
    assert stranger.run("return window.held.isConnected && document.documentElement.dataset.view") == "box"

    stranger.run("location.hash = '#code=000000000'")
    stranger.until("document.querySelector('#toast').innerText.includes('That is not the code')")
    assert stranger.run(KEPT) == CODE
    assert stranger.run("return location.href") == f"{yard.url}#box"
    stranger.run("location.hash = '#code=%2%2%2%2%2'")
    stranger.until("!location.hash.includes('code')")
    assert stranger.run(KEPT) == CODE
    assert all("401" in one for one in stranger.complaints())


def test_a_link_opened_where_the_code_is_asked_for_answers_the_question(yard: Yard, stranger: Browser) -> None:
    a_mob(yard, 4)
    stranger.go(yard.url)
    stranger.until("document.querySelector('dialog[open] [name=code]')")
    stranger.run("location.hash = '#code=000000000'")
    stranger.until(f"{OPEN}.innerText.includes('That is not the code')")
    assert not stranger.run(KEPT)
    stranger.run("location.hash = arguments[0]", f"#code={CODE}")
    stranger.until(f"!{OPEN}")
    assert stranger.run(KEPT) == CODE
    assert stranger.run("return location.href") == yard.url
    assert all("401" in one for one in stranger.complaints())


def test_everything_but_now_is_refused_without_the_code(yard: Yard) -> None:
    a_mob(yard, 4)
    for path in LOOKS:
        assert ask(yard, "GET", path, code=None).status == 401, path
        assert ask(yard, "GET", path, code="000000001").status in {401, 429}, path
        assert ask(yard, "GET", path).status in {200, 404}, path
    for path in ("/now", "/health", "/metrics", "/", "/main.js", "/views/now/now.js"):
        assert ask(yard, "GET", path, code=None).status == 200, path
    assert post(yard, {"kind": "status"}, None).status == 401
