"""A real browser in the size of a phone: Debian's chromium, driven by the DevTools protocol.

It is the build of it without a window (`chromium-headless-shell`): the same engine, for half of the processor's time.
"""

import base64
import json
import signal
import time
from pathlib import Path
from typing import Any, Self

from tests.bridge.page.devtools import DevTools

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars", "--mute-audio",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--js-flags=--single-threaded",  # helpers of its own cost more than they help where all cores are busy
    "--in-process-gpu", "--no-zygote", "--process-per-site", "--enable-features=NetworkServiceInProcess2",
    "--disable-features=SpareRendererForSitePerProcess,BackForwardCache,Translate,MediaRouter,OptimizationHints",
]  # fmt: skip

SAVES = """
window.saved = null;
const real = URL.createObjectURL;
URL.createObjectURL = (blob) => { blob.text().then((text) => window.saved = text); return real(blob) };
HTMLAnchorElement.prototype.click = function () {};
"""
"""Keeps what is saved, for the browser of the tests has nowhere to put it."""

CLICK = """
const one = document.querySelector(arguments[0]);
if (!one) return false;
const middle = () => {
  one.scrollIntoView({ block: 'nearest', inline: 'nearest', behavior: 'instant' });
  const box = one.getBoundingClientRect();
  return [box.left + box.width / 2, box.top + box.height / 2];
};
const frame = () => new Promise((done) => requestAnimationFrame(done));
return (async () => {
  const first = middle();
  await frame(); await frame();
  const now = middle();
  const hit = document.elementFromPoint(...now);
  const meant = hit && (one.contains(hit) || hit.contains(one) && hit.closest('label, a, button'));
  if (!meant || String(first) !== String(now)) return false;
  one.focus({ preventScroll: true });
  one.click(); // at once: what comes from the box may move it before a mouse is there
  return true;
})();
"""
"""Click an element, once it stands still with nothing over its middle; say whether it did."""

LOADS = {"Page.frameScheduledNavigation", "Page.frameStartedLoading"}
LOADED = {"Page.frameStoppedLoading"}


class Browser:
    """One window.  Use as a context manager."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._begin()

    def _begin(self) -> None:
        self._tools = DevTools([*FLAGS, f"--user-data-dir={self._folder}", "about:blank"], self._folder / "shell.log")
        self._complaints: list[str] = []
        self._loading = self._crashed = False
        made = self._tools.call("Target.createTarget", url="about:blank")
        joined = self._tools.call("Target.attachToTarget", targetId=made["targetId"], flatten=True)
        self._session: str = joined["sessionId"]
        self._frame: str = self._send("Page.getFrameTree")["frameTree"]["frame"]["id"]
        for domain in ("Page", "Runtime", "Log", "Inspector"):
            self._send(f"{domain}.enable")
        self.cdp("Emulation.setTouchEmulationEnabled", enabled=True)
        self.resize()

    def revive(self) -> None:
        """Begin anew if it has died under an earlier test, which is that test's failure and no other's."""
        self._hear()
        if self._crashed or self._tools.ended:
            self._tools.end()
            self._begin()

    def kill(self, number: signal.Signals) -> None:
        """End it as nothing in the page can."""
        self._tools.kill(number)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._tools.end()

    def _send(self, command: str, /, **parameters: Any) -> dict[str, Any]:
        return self._tools.call(command, self._session, **parameters)

    def _hear(self) -> None:
        """Take in what the browser has told: what it complains of, and whether a page is on its way."""
        while self._tools.events:
            told = self._tools.events.popleft()
            name, said = told["method"], told["params"]
            if name in LOADS | LOADED and said["frameId"] == self._frame:
                self._loading = name in LOADS
            elif name == "Inspector.targetCrashed":
                self._crashed = True
            elif name == "Log.entryAdded" and said["entry"]["level"] == "error":
                self._complaints.append(f"{said['entry'].get('url', '')} {said['entry']['text']}")
            elif name == "Runtime.exceptionThrown":
                self._complaints.append(json.dumps(said["exceptionDetails"]))
            elif name == "Runtime.consoleAPICalled" and said["type"] in {"error", "assert"}:
                self._complaints.append(json.dumps(said["args"]))

    def _settle(self) -> None:
        """Wait for a page that is on its way: one command of ours led there, and the next is meant for it."""
        self._hear()
        while self._loading:
            self._tools.wait("a page that is loaded")
            self._hear()

    def resize(self, width: int = 390, height: int = 844) -> None:
        """Take the size of a phone, in CSS pixels."""
        self.cdp("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=True)

    def go(self, url: str) -> None:
        """Open a page and wait until it is loaded."""
        self._settle()
        went = self._send("Page.navigate", url=url)
        assert "errorText" not in went, f"{url}: {went['errorText']}"
        if "loaderId" in went:  # another place of the same page loads nothing
            self._loading = True
        self._settle()

    def run(self, script: str, *arguments: Any, gesture: bool = False) -> Any:
        """Run a script in the page and return what it returns; a promise is waited for.

        With `gesture` it counts as a person's touch, without which a page may make no sound.
        """
        self._settle()
        called = f"(function () {{ {script}\n}}).apply(null, {json.dumps(arguments)})"
        spelled = f"(async () => JSON.stringify(await {called}) ?? 'null')()"  # a box of the screen is spelled only so
        more = {"awaitPromise": True, "returnByValue": True, "userGesture": gesture}
        done = self._send("Runtime.evaluate", expression=spelled, **more)
        assert "exceptionDetails" not in done, f"{script}\n{done['exceptionDetails']}"
        return json.loads(done["result"]["value"])

    def until(self, condition: str, *arguments: Any, within_s: float = 120.0) -> Any:
        """Wait until an expression is true in the page, and return it; an element is only said to be there."""
        end = time.monotonic() + within_s
        script = f"const found = {condition}; return found instanceof Node || found"
        while not (found := self.run(script, *arguments)):
            assert time.monotonic() < end, f"still not true: {condition}\n{self.text('body')}"
            time.sleep(0.02)
        return found

    def click(self, css: str, *, within_s: float = 60.0) -> None:
        """Tap the first element that fits, once it stands still."""
        end = time.monotonic() + within_s
        while not self.run(CLICK, css, gesture=True):
            assert time.monotonic() < end, f"{css} is not there, or moves, or is covered\n{self.text('body')}"
            time.sleep(0.02)

    def press(self, text: str, within: str = "body") -> None:
        """Press the button with this text, wherever it is."""
        script = (
            "[...document.querySelectorAll(`${arguments[0]} button`)].find((one) => one.innerText === arguments[1])"
        )
        self.run(f"{script}.click()", within, text)

    def type(self, css: str, text: str) -> None:
        """Type into a field that is empty."""
        self.run("document.querySelector(arguments[0]).focus()", css)
        self.cdp("Input.insertText", text=text)

    def choose_file(self, css: str, path: Path) -> None:
        """Choose a file for a field that asks for one."""
        self._settle()
        field = self._send("Runtime.evaluate", expression=f"document.querySelector({json.dumps(css)})")["result"]
        self.cdp("DOM.setFileInputFiles", files=[str(path)], objectId=field["objectId"])

    def text(self, css: str) -> str:
        """Return the text that is seen of an element."""
        return str(self.run("return document.querySelector(arguments[0]).innerText", css))

    def saved(self, button: str) -> str:
        """Press a button that saves a file, and give what is in the file."""
        self.run(SAVES)
        self.run("document.querySelector(arguments[0]).click()", button)
        return str(self.until("window.saved"))

    def shot(self, path: Path) -> None:
        """Save what is seen as a PNG."""
        path.write_bytes(base64.b64decode(self.cdp("Page.captureScreenshot")["data"]))

    def cdp(self, command: str, /, **parameters: Any) -> dict[str, Any]:
        """Send a command of the DevTools protocol to the page."""
        self._settle()
        return self._send(command, **parameters)

    def complaints(self) -> list[str]:
        """Return what the browser has logged as an error since the last call."""
        self.run("")  # what was logged before this is told before its answer
        self._hear()
        said, self._complaints = self._complaints, []
        return said
