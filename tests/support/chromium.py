"""A headless Chromium for tests, spoken to through a pipe in the DevTools protocol (chromedevtools.github.io).

It has a fresh profile of its own, and its network is switched off before any page is opened.
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

_OPTIONS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    *("--disable-dev-shm-usage", "--hide-scrollbars", "--remote-debugging-pipe"),
)
#: Generous: a busy machine takes long to start a browser.
_PATIENCE_S = 90.0


class Unavailable(Exception):
    """Why there can be no browser here."""


class Browser:
    """One open page. ``requests`` are the addresses it asked for, ``complaints`` what the console got to say."""

    def __init__(self, read: int, write: int) -> None:
        self._read, self._write, self._number, self._buffer = read, write, 0, b""
        self._session: str | None = None
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self._loaded = False
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Runtime", "Log"):
            self.call(f"{domain}.enable")
        self.call(
            "Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=-1, uploadThroughput=-1
        )

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One command and its answer; what else comes in meanwhile is noted."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._message()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                result: dict[str, Any] = answer["result"]
                return result

    def open(self, page: Path, width: int, height: int = 900, *, dark: bool = False, phone: bool = False) -> None:
        """Show a file in a window of this size."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=phone)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self._loaded = False
        self.call("Page.navigate", url=page.absolute().as_uri())
        while not self._loaded:
            self._message()

    def value(self, expression: str) -> Any:
        """What an expression is on the page."""
        found = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def picture(self) -> bytes:
        """The whole page as PNG."""
        return base64.b64decode(self.call("Page.captureScreenshot", captureBeyondViewport=True)["data"])

    def _message(self) -> dict[str, Any]:
        end_s = time.monotonic() + _PATIENCE_S
        while b"\0" not in self._buffer:
            assert select.select([self._read], [], [], max(0.0, end_s - time.monotonic()))[0], "the browser is silent"
            data = os.read(self._read, 1 << 16)
            assert data, "the browser has gone"
            self._buffer += data
        text, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(text)
        self._note(message)
        return message

    def _note(self, message: dict[str, Any]) -> None:
        event, told = message.get("method"), message.get("params", {})
        if event == "Network.requestWillBeSent":
            self.requests.append(told["request"]["url"])
        elif event in ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded"):
            self.complaints.append(json.dumps(told))
        elif event == "Page.loadEventFired":
            self._loaded = True


@contextmanager
def browser() -> Iterator[Browser]:
    """A running browser; :class:`Unavailable` says why there is none."""
    program = shutil.which("chromium")
    if program is None or os.name == "nt":
        raise Unavailable("chromium is not installed (Debian: apt-get install chromium)")
    profile = tempfile.mkdtemp(prefix="widehand-chromium-")
    to_browser, from_browser = os.pipe(), os.pipe()
    # The browser reads commands from its descriptor 3 and answers on 4.
    line = f'exec "$0" "$@" 3<&{to_browser[0]} 4>&{from_browser[1]}'
    process = subprocess.Popen(
        ["bash", "-c", line, program, *_OPTIONS, f"--user-data-dir={profile}", "about:blank"],
        pass_fds=(to_browser[0], from_browser[1]),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(to_browser[0])
    os.close(from_browser[1])
    try:
        yield Browser(from_browser[0], to_browser[1])
    finally:
        os.close(to_browser[1])  # it ends when nobody can command it any more
        try:
            process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        os.close(from_browser[0])
        shutil.rmtree(profile, ignore_errors=True)
