"""A real browser in the size of a phone: Debian's chromium, driven through chromedriver (W3C WebDriver over HTTP).

It is the build of it without a window (`chromium-headless-shell`): the same engine, for half of the processor's time.
"""

import base64
import http.client
import json
import os
import re
import shutil
import signal
import subprocess
import time
from pathlib import Path
from typing import Any, Self

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars", "--mute-audio",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--in-process-gpu", "--no-zygote", "--process-per-site", "--enable-features=NetworkServiceInProcess2",
    "--disable-features=SpareRendererForSitePerProcess,BackForwardCache,Translate,MediaRouter,OptimizationHints",
    "--remote-debugging-port=0",  # one of its choice; above them, three for fewer processes
]  # fmt: skip
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""Key of an element's reference (W3C WebDriver, section 12)."""

SAVES = """
window.saved = null;
const real = URL.createObjectURL;
URL.createObjectURL = (blob) => { blob.text().then((text) => window.saved = text); return real(blob) };
HTMLAnchorElement.prototype.click = function () {};
"""
"""Keeps what is saved, for the browser of the tests has nowhere to put it."""


class Browser:
    """One window.  Use as a context manager."""

    def __init__(self, folder: Path) -> None:
        self._driver, port = _start_driver()
        self._http = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self._shell, address = _start_shell(folder)
        options = {"debuggerAddress": address}
        wanted = {"browserName": "chrome", "goog:chromeOptions": options, "goog:loggingPrefs": {"browser": "ALL"}}
        made = self._call("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
        self._session = f"/session/{made['sessionId']}"
        self._to("POST", "/timeouts", {"script": 60000})
        self.cdp("Emulation.setTouchEmulationEnabled", enabled=True)
        self.resize()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        try:
            self._call("DELETE", self._session)
        finally:
            self._driver.terminate()
            self._driver.wait(10)
            assert self._driver.stdout
            self._driver.stdout.close()
            self._http.close()
            os.killpg(self._shell.pid, signal.SIGTERM)
            self._shell.wait(10)

    def _call(self, method: str, path: str, body: Any = None) -> Any:
        self._http.request(method, path, None if body is None else json.dumps(body))
        answer = json.loads(self._http.getresponse().read())["value"]
        assert not (isinstance(answer, dict) and "error" in answer), answer["message"]
        return answer

    def _to(self, method: str, path: str, body: Any = None) -> Any:
        return self._call(method, self._session + path, body)

    def resize(self, width: int = 390, height: int = 844) -> None:
        """Take the size of a phone, in CSS pixels."""
        self.cdp("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=True)

    def go(self, url: str) -> None:
        """Open a page and wait until it is loaded."""
        self._to("POST", "/url", {"url": url})

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page and return what it returns; a promise is waited for."""
        return self._to("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def until(self, condition: str, *arguments: Any, within_s: float = 120.0) -> Any:
        """Wait until an expression is true in the page, and return it."""
        end = time.monotonic() + within_s
        while not (found := self.run(f"return {condition}", *arguments)):
            assert time.monotonic() < end, f"still not true: {condition}\n{self.text('body')}"
            time.sleep(0.05)
        return found

    def _find(self, css: str) -> str:
        found: str = self._to("POST", "/element", {"using": "css selector", "value": css})[ELEMENT]
        return found

    def click(self, css: str) -> None:
        """Tap the first element that fits."""
        self._to("POST", f"/element/{self._find(css)}/click", {})

    def press(self, text: str, within: str = "body") -> None:
        """Press the button with this text, wherever it is."""
        script = (
            "[...document.querySelectorAll(`${arguments[0]} button`)].find((one) => one.innerText === arguments[1])"
        )
        self.run(f"{script}.click()", within, text)

    def type(self, css: str, text: str) -> None:
        """Type into a field."""
        self._to("POST", f"/element/{self._find(css)}/value", {"text": text})

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
        path.write_bytes(base64.b64decode(self._to("GET", "/screenshot")))

    def cdp(self, command: str, **parameters: Any) -> Any:
        """Send a command of the DevTools protocol."""
        return self._to("POST", "/goog/cdp/execute", {"cmd": command, "params": parameters})

    def complaints(self) -> list[str]:
        """Return what the browser has logged as an error since the last call."""
        entries = self._to("POST", "/se/log", {"type": "browser"})
        return [entry["message"] for entry in entries if entry["level"] == "SEVERE"]


def _start_driver() -> tuple[subprocess.Popen[str], int]:
    """Start chromedriver on a port of its choice; it gives up when that one is taken on one of its addresses."""
    driver = shutil.which("chromedriver")
    assert driver, "chromedriver is missing; .ci/needs installs it"
    said: list[str] = []
    for _ in range(5):
        process = subprocess.Popen([driver, "--port=0"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        assert process.stdout
        for line in process.stdout:
            if found := re.search(r"started successfully on port (\d+)", line):
                return process, int(found[1])
            said.append(line)
        process.wait(10)
        process.stdout.close()
    raise AssertionError(f"chromedriver does not start: {''.join(said)}")


def _start_shell(folder: Path) -> tuple[subprocess.Popen[bytes], str]:
    """Start the browser, and return it with the address that it listens at."""
    shell = shutil.which("chromium-headless-shell")
    assert shell, "chromium-headless-shell is missing; .ci/needs installs it"
    command = [shell, *FLAGS, f"--user-data-dir={folder}", "about:blank"]
    log = folder / "shell.log"
    with log.open("wb") as out:
        process = subprocess.Popen(command, stdout=out, stderr=out, start_new_session=True)  # Debian's is a script
    told = folder / "DevToolsActivePort"
    end = time.monotonic() + 120.0
    while not told.exists() or "\n" not in told.read_text():
        assert time.monotonic() < end, f"the browser does not start: {log.read_text()}"
        time.sleep(0.02)
    return process, f"127.0.0.1:{told.read_text().splitlines()[0]}"
