"""A keyboard on the page: real keys (DevTools protocol), and what they are to reach."""

from tests.bridge.page.browser import Browser

REACHED = """
const seen = (one) => one.checkVisibility() && !one.disabled && !one.closest('[inert]');
const top = [...document.querySelectorAll('dialog[open]')].at(-1) ?? document;
const all = [...top.querySelectorAll('button, a[href], input, select, textarea, summary, [tabindex="0"]')].filter(seen);
const groups = new Set();
return all.filter((one) => {
  if (one.type !== 'radio') return true;
  return !groups.has(one.name) && groups.add(one.name);
}).map((one) => (one.dataset.key_ ??= String(Math.random()), one.dataset.key_));
"""
"""All that can be operated and is seen; of radio buttons, which are one stop, the first of each group."""
FOCUSED = """
const now = document.activeElement;
const group = now?.type === 'radio' ? document.querySelector(`[name="${now.name}"][data-key_]`) : now;
return group?.dataset.key_ ?? null;
"""
CALLED = """
const now = document.activeElement;
const text = (one) => one?.innerText?.replace(/\\s+/g, ' ').trim() ?? '';
const group = now.type === 'radio' ? text(now.closest('fieldset')?.querySelector('legend')) : '';
return [text(now), text(now.closest('label')), group].map((one) => one || ' ');
"""
CODES = {
    "Tab": 9,
    "Enter": 13,
    "Escape": 27,
    " ": 32,
    "ArrowRight": 39,
    "ArrowLeft": 37,
    "ArrowDown": 40,
    "ArrowUp": 38,
}
SHIFT = 8


class Keys:
    """Presses keys; nothing else touches the page."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser

    def press(self, key: str, *, shift: bool = False) -> None:
        """Press one key."""
        text = {"Enter": "\r", " ": " "}.get(key)
        more = {"key": key, "code": "Space" if key == " " else key, "windowsVirtualKeyCode": CODES[key]}
        more |= {"modifiers": SHIFT} if shift else {}
        self.browser.cdp("Input.dispatchKeyEvent", type="keyDown", **more, **({"text": text} if text else {}))
        self.browser.cdp("Input.dispatchKeyEvent", type="keyUp", **more)

    def to(self, name: str, *, back: bool = False, most: int = 120) -> None:
        """Press Tab until what is called so has the focus: by its text, its label or its group."""
        for _ in range(most):
            if any(one == name or one.startswith(f"{name} ") for one in self.browser.run(CALLED)):
                return
            self.press("Tab", shift=back)
        raise AssertionError(f"{name!r} was not reached; now {self.browser.run(CALLED)}")

    def enter(self, name: str) -> None:
        """Go to a button and press it."""
        self.to(name)
        self.press("Enter")

    def fill(self, label: str, text: str) -> None:
        """Go to a field and type."""
        self.to(label)
        self.browser.run("document.activeElement.select?.()")
        self.browser.cdp("Input.insertText", text=text)

    def unreached(self) -> list[str]:
        """Press Tab twice round; return what never had the focus."""
        wanted = self.browser.run(REACHED)
        left = set(wanted)
        for _ in range(2 * len(wanted) + 6):
            self.press("Tab")
            left.discard(self.browser.run(FOCUSED))
            if not left:
                break
        named = "return document.querySelector(`[data-key_='${arguments[0]}']`)?.outerHTML ?? 'drawn anew meanwhile'"
        return [self.browser.run(named, key)[:200] for key in left]
