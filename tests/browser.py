"""A page in a real browser: what stands on it, what it complains of, how it is on paper.

    with Browser() as browser:
        seen = browser.look(page)          # Seen(text, complaints, overflow, sheets, ...)

Chromium without a window (Debian's chromium-headless-shell, or what SAGBENCH_CHROMIUM names), spoken to by its own protocol
over two pipes: https://chromedevtools.github.io/devtools-protocol (domains Page, Runtime, Log, Emulation; from memory).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import base64
import json
import os
import re
import select
import shutil
import subprocess
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
PATIENCE_S = 60.0
SHEET_MM = (210.0, 297.0)                # A4, as page.css asks for
SHEET_PX = int((210 - 2 * 14) / 25.4 * 96)                  # between its margins, in CSS pixels of 1/96 inch


def program() -> str:
    """The browser's path.  Raises AssertionError with what to do if there is none."""
    found = os.environ.get("SAGBENCH_CHROMIUM") or next((path for name in NAMES if (path := shutil.which(name))), None)
    assert found, "no Chromium is installed; `make setup` as root installs Debian's chromium-headless-shell"
    return found


@dataclass(frozen=True)
class Seen:
    """What a browser made of a page."""

    title: str
    text: str                            # as a reader sees it: what is hidden is not in it
    complaints: tuple[str, ...]          # console messages, errors of scripts, refused or failed requests
    overflow: int                        # CSS pixels that the page is wider than the window
    paper_overflow: int                  # the same on a sheet's width between its margins
    clipped: tuple[str, ...]             # drawings' texts that stand outside their drawing
    paper: bytes                         # PDF on A4
    picture: bytes                       # PNG of the whole page, empty if not asked for

    @property
    def sheets(self) -> int:
        """Sheets of paper, by the PDF's own page objects."""
        return len(re.findall(rb"/Type\s*/Page\b(?!s)", self.paper))


class Browser:
    """One browser process for many pages."""

    def __init__(self) -> None:
        self._home = tempfile.TemporaryDirectory(prefix="sagbench-browser-", ignore_cleanup_errors=True)
        ours, self._out = os.pipe()
        self._in, theirs = os.pipe()

        def pipes() -> None:             # the protocol's pipes are descriptors 3 and 4
            a, b = os.dup(ours), os.dup(theirs)
            os.dup2(a, 3)
            os.dup2(b, 4)
        words = [program(), "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe", "--no-first-run", "--disable-extensions",
                 "--disable-dev-shm-usage", "--disable-background-networking", "--disable-component-update", "--hide-scrollbars",
                 f"--user-data-dir={self._home.name}"]
        self._process = subprocess.Popen(words, preexec_fn=pipes, pass_fds=(3, 4, ours, theirs), stdin=subprocess.DEVNULL,
                                         stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(ours)
        os.close(theirs)
        self._rest, self._number, self._events = b"", 0, []        # type: ignore[var-annotated]
        target = self._call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self._call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self._call(f"{domain}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait(PATIENCE_S)
        os.close(self._out)
        os.close(self._in)
        self._home.cleanup()

    # -------------------------------------------------------------- the protocol
    def _message(self) -> dict[str, Any]:
        until = time.monotonic() + PATIENCE_S
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._in], [], [], max(until - time.monotonic(), 0))
            assert ready, "the browser says nothing any more"
            more = os.read(self._in, 1 << 20)
            assert more, "the browser has ended"
            self._rest += more
        text, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(text)
        return found

    def _call(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._number += 1
        asked: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if hasattr(self, "_session"):
            asked["sessionId"] = self._session
        os.write(self._out, json.dumps(asked).encode() + b"\0")
        while True:
            message = self._message()
            if message.get("id") == self._number:
                assert "error" not in message, f"{method}: {message['error']}"
                result: dict[str, Any] = message["result"]
                return result
            self._events.append(message)

    def _value(self, expression: str) -> Any:
        return self._call("Runtime.evaluate", expression=expression, returnByValue=True)["result"].get("value")

    # -------------------------------------------------------------- looking
    def look(self, page: str, width: int = 1000, height: int = 800, picture: bool = False) -> Seen:
        """Open a page from a file, as a user does; with a picture of it if asked for."""
        place = Path(self._home.name) / f"page-{self._number}.html"
        place.write_text(page, encoding="utf-8")
        self._events.clear()
        self._call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self._call("Page.navigate", url=place.as_uri())
        while not any(event.get("method") == "Page.loadEventFired" for event in self._events):
            self._events.append(self._message())
        text, title = self._value("document.body.innerText"), self._value("document.title")
        overflow = self._value("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        outside = self._value(OUTSIDE)
        self._call("Emulation.setEmulatedMedia", media="print")
        self._call("Emulation.setDeviceMetricsOverride", width=SHEET_PX, height=height, deviceScaleFactor=1, mobile=False)
        paper_overflow = self._value("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        self._call("Emulation.setEmulatedMedia", media="")
        self._call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        drawn = self._call("Page.captureScreenshot", captureBeyondViewport=True)["data"] if picture else ""
        wide, high = (mm / 25.4 for mm in SHEET_MM)
        paper = self._call("Page.printToPDF", paperWidth=wide, paperHeight=high, preferCSSPageSize=True, printBackground=True)["data"]
        complaints = tuple(filter(None, map(_complaint, self._events)))
        return Seen(title, text, complaints, overflow, paper_overflow, tuple(outside), base64.b64decode(paper), base64.b64decode(drawn))


# Texts of a drawing that reach beyond the outermost drawing they are in, by more than a pixel.
OUTSIDE = """[...document.querySelectorAll('svg text')].filter(t => {
  let s = t.ownerSVGElement; while (s.ownerSVGElement) s = s.ownerSVGElement;
  const a = t.getBoundingClientRect(), b = s.getBoundingClientRect();
  return a.width && (a.left < b.left - 1 || a.right > b.right + 1 || a.top < b.top - 1 || a.bottom > b.bottom + 1)
}).map(t => t.textContent)"""


def _complaint(event: dict[str, Any]) -> str:
    """What an event complains of, "" if it does not.  Anything on the console counts: a page without scripts has nothing to say there."""
    method, told = event.get("method", ""), event.get("params", {})
    if method == "Runtime.consoleAPICalled":
        return "console: " + " ".join(str(a.get("value", a.get("description"))) for a in told["args"])
    if method == "Runtime.exceptionThrown":
        return f"exception: {told['exceptionDetails'].get('text')}"
    if method == "Log.entryAdded":
        return f"{told['entry']['source']} {told['entry']['level']}: {told['entry']['text']}"
    if method == "Network.loadingFailed":
        return f"not loaded: {told.get('errorText')} {told.get('blockedReason', '')}"
    if method == "Network.requestWillBeSent" and not told["request"]["url"].startswith(("file:", "data:")):
        return f"asks for {told['request']['url']}"
    return ""
