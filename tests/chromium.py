"""A real browser for tests: Debian's Chromium, spoken to through a pipe (DevTools protocol).

No driver and no library: the browser is started with two pipes and answers JSON messages that end
in a zero byte. Where there is no Chromium, `find_chromium` returns None and tests say so.
"""

from __future__ import annotations

import base64
import contextlib
import itertools
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",
    "--autoplay-policy=no-user-gesture-required",
    "--remote-debugging-pipe",
)
#: Seconds between two looks at a page that is waited for.
EVERY = 0.05
#: Virtual key codes (UI Events, "Fixed virtual key codes").
CODES = {
    "Tab": 9,
    "Enter": 13,
    "Escape": 27,
    " ": 32,
    "End": 35,
    "Home": 36,
    "ArrowLeft": 37,
    "ArrowUp": 38,
    "ArrowRight": 39,
    "ArrowDown": 40,
    "Delete": 46,
}
#: The browser reads commands from descriptor 3 and answers on 4: a small step puts our pipes there.
START = """
import os, sys
read, write = (int(n) for n in sys.argv[1].split())
os.dup2(read, 63)
os.dup2(write, 64)
os.dup2(63, 3)
os.dup2(64, 4)
os.execv(sys.argv[2], sys.argv[2:])
"""


def find_chromium() -> str | None:
    """Return the path of a Chromium on this machine, or None."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Tab:
    """One tab. `troubles` are uncaught errors and errors on the console; `asked` every address."""

    def __init__(self, write: int, read: int) -> None:
        self._write, self._read = write, read
        self._ids = itertools.count(1)
        self._rest = b""
        self._session: str | None = None
        self.troubles: list[str] = []
        self.asked: list[str] = []

    def attach(self) -> None:
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        answer = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = answer["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network", "Inspector"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params: object) -> Any:
        """Send a command and return its result."""
        number = next(self._ids)
        message: dict[str, object] = {"id": number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == number:
                if "error" in answer:
                    raise AssertionError(f"{method}: {answer['error']}")
                return answer["result"]
            self._note(answer)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            part = os.read(self._read, 1 << 16)
            if not part:
                raise AssertionError("the browser went away")
            self._rest += part
        whole, _, self._rest = self._rest.partition(b"\0")
        message: dict[str, Any] = json.loads(whole)
        return message

    def _note(self, event: dict[str, Any]) -> None:
        params = event.get("params", {})
        match event.get("method"):
            case "Runtime.exceptionThrown":
                self.troubles.append(str(params["exceptionDetails"].get("text")))
            case "Runtime.consoleAPICalled" if params["type"] in ("error", "warning"):
                self.troubles.append(str(params["args"]))
            case "Log.entryAdded" if params["entry"]["level"] in ("error", "warning"):
                self.troubles.append(params["entry"]["text"])
            case "Inspector.targetCrashed":
                raise AssertionError("the tab crashed")
            case "Network.requestWillBeSent":
                self.asked.append(params["request"]["url"])

    def prefer(self, **features: str) -> None:
        """Let the browser say that the reader prefers this, as in reduced motion."""
        named = [{"name": n.replace("_", "-"), "value": v} for n, v in features.items()]
        self.call("Emulation.setEmulatedMedia", features=named)

    def open(self, address: str, width: int = 1280, height: int = 800) -> None:
        """Show `address` in a window of the given size and wait until it has loaded."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )
        self.call("Page.navigate", url=address)
        self.wait_for("document.readyState === 'complete' && location.href !== 'about:blank'")

    def run(self, script: str) -> Any:
        """Return the value of an expression in the page; promises are waited for."""
        answer = self.call(
            "Runtime.evaluate",
            expression=script,
            returnByValue=True,
            awaitPromise=True,
            userGesture=True,
        )
        if "exceptionDetails" in answer:
            raise AssertionError(answer["exceptionDetails"])
        return answer["result"].get("value")

    def wait_for(self, condition: str, seconds: float = 15.0) -> None:
        """Wait until an expression is true; AssertionError when it does not become so.

        Waited is as often as fits into so many seconds, not until a time: a machine that stands
        still meanwhile has the page stand still too.
        """
        looks = round(seconds / EVERY)
        # While a page goes and another comes, nothing may be there to ask.
        asked = f"(() => {{ try {{ return Boolean({condition}); }} catch {{ return false; }} }})()"
        while not self.run(asked):
            looks -= 1
            if looks < 0:
                raise AssertionError(f"it did not come true: {condition}")
            time.sleep(EVERY)

    def press(self, key: str) -> None:
        """Press and release one key, as a person does."""
        text = {" ": " ", "Enter": "\r"}.get(key, key if len(key) == 1 else "")
        down: dict[str, object] = {"text": text} if text else {}
        code = CODES.get(key, ord(key.upper()) if len(key) == 1 else 0)
        for kind in ("keyDown", "keyUp"):
            more = down if kind == "keyDown" else {}
            self.call(
                "Input.dispatchKeyEvent", type=kind, key=key, windowsVirtualKeyCode=code, **more
            )

    def type(self, text: str) -> None:
        """Type `text`, key by key."""
        for key in text:
            self.press(key)

    def tap(self, x: float, y: float) -> None:
        """Press and release the pointer at a place in the window."""
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def give_file(self, selector: str, path: Path) -> None:
        """Choose a file in an input, as a person does in the window that opens."""
        root = self.call("DOM.getDocument")["root"]["nodeId"]
        node = self.call("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]
        self.call("DOM.setFileInputFiles", files=[str(path)], nodeId=node)

    def picture(self, path: Path) -> None:
        """Save what the window shows as a PNG."""
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot")["data"]))


@contextlib.contextmanager
def browser_tab(*flags: str) -> Iterator[Tab]:
    """Give a tab of a fresh browser, started with more `flags`, that is closed in the end."""
    path = find_chromium()
    assert path is not None
    to_read, to_write = os.pipe()
    from_read, from_write = os.pipe()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        start = [sys.executable, "-c", START, f"{to_read} {from_write}"]
        process = subprocess.Popen(
            [*start, path, *FLAGS, *flags, f"--user-data-dir={profile}"],
            pass_fds=(to_read, from_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(from_write)
        tab = Tab(to_write, from_read)
        try:
            tab.attach()
            yield tab
        finally:
            with contextlib.suppress(Exception):
                tab._session = None
                tab.call("Browser.close")
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(timeout=10)
            if process.poll() is None:
                process.kill()
                process.wait()
            os.close(to_write)
            os.close(from_read)
