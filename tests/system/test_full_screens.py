"""The full screens in a real terminal of 80 x 24 (a pseudo-terminal), at the virtual fixture, by keys alone and without colour.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import rig

CHIP = rig.ROOT / "tests/virtual_fixture/chips/demo/tired_74ls00.toml"
RENDITION = re.compile(r"\x1b\[([0-9;]*)m")         # select graphic rendition, ECMA-48, 8.3.117
GREY = {16, 231, *range(232, 256)}                  # black, white and the greys of xterm's palette of 256 (from memory)


class Terminal:
    """A command in a terminal; what it wrote so far, without the moves of the cursor."""

    def __init__(self, *words: str, data: Path) -> None:
        self._here, there = pty.openpty()
        fcntl.ioctl(there, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        env = {**rig.ENV, "TERM": "xterm-256color", "SAGBENCH_DATA": str(data), "SAGBENCH_SETTINGS": "", "NO_COLOR": "1"}
        self._process = subprocess.Popen([sys.executable, "-m", "sagbench", *words], cwd=rig.ROOT, env=env, stdin=there, stdout=there, stderr=there,
                                         start_new_session=True)
        os.close(there)
        self.raw = ""

    @property
    def text(self) -> str:
        return re.sub(r"\x1b(?:\[[0-9;:?<>=]*[ -/]*[@-~]|[()][A-Za-z0-9]|[=>])", "", self.raw)

    def until(self, words: str, seconds: float = 3 * rig.PATIENCE_S) -> None:
        """Read until these words have come.  Raises AssertionError with all that came."""
        end = time.monotonic() + seconds
        while words not in self.text:
            assert time.monotonic() < end, f"no {words!r} in:\n{self.text[-3000:]}"
            self._read()

    def _read(self) -> bool:
        ready, _, _ = select.select([self._here], [], [], 0.2)
        try:
            more = os.read(self._here, 65536) if ready else b""
        except OSError:                              # the program has ended
            return False
        self.raw += more.decode(errors="replace")
        return bool(more) or self._process.poll() is None

    def press(self, keys: str) -> None:
        os.write(self._here, keys.encode())

    def end(self) -> int:
        """Everything to the end; the exit code."""
        until = time.monotonic() + rig.PATIENCE_S
        while self._read() and time.monotonic() < until:
            pass
        os.close(self._here)
        return self._process.wait(rig.PATIENCE_S)


@pytest.fixture(scope="module")
def port() -> Iterator[str]:
    with rig.virtual_port(CHIP, 7, "--fast") as made:
        yield made


def colours(raw: str) -> set[str]:
    """Every colour that is neither black, white nor grey: of the first sixteen, of the palette, or given in full."""
    found = set()
    for words in RENDITION.findall(raw):
        codes = [int(code or 0) for code in words.split(";")]
        while codes:
            code = codes.pop(0)
            if code in (38, 48) and codes[:1] == [5]:
                found |= {f"palette {codes[1]}"} if codes[1] not in GREY else set()
                del codes[:2]
            elif code in (38, 48) and codes[:1] == [2]:
                found |= {f"red, green, blue {codes[1:4]}"} if len(set(codes[1:4])) > 1 else set()
                del codes[:4]
            elif 30 <= code <= 37 or 40 <= code <= 47 or 90 <= code <= 97 or 100 <= code <= 107:
                found.add(f"colour {code}")
    return found


def test_colours_are_found_out() -> None:
    assert colours("\x1b[1;31mx\x1b[0m\x1b[38;5;231;48;5;16my\x1b[38;5;9mz\x1b[38;2;1;2;3m\x1b[48;2;7;7;7m") == {"colour 31", "palette 9", "red, green, blue [1, 2, 3]"}


def test_a_box(port: str, tmp_path: Path) -> None:
    """The chip is in the socket from the beginning: it is measured at once."""
    terminal = Terminal("lot", "74LS00", "--name", "attic", "--silent", "--port", port, data=tmp_path)
    terminal.until("Take it out.")
    terminal.until("1 not sound")
    terminal.press("nbent leg\r")
    terminal.until("Note of entry 1: bent leg.")
    terminal.press("q")
    assert terminal.end() == 0 and "go on with `sagbench lot --resume 1`" in terminal.text and colours(terminal.raw) == set()
    told = rig.sagbench("log", "export", "--csv", "-", data=tmp_path)
    assert "not sound" in told.stdout and "bent leg" in told.stdout


def test_a_soak(port: str, tmp_path: Path) -> None:
    terminal = Terminal("soak", "74LS00", "--for", "10m", "--port", port, data=tmp_path)
    terminal.until("worst so far: not sound")
    terminal.press("mtapped\r")
    terminal.until("tapped.")
    terminal.press("q")
    assert terminal.end() == 1 and "ended because the user ended it" in terminal.text and "marked at" in terminal.text and colours(terminal.raw) == set()


def test_a_chip_held(port: str, tmp_path: Path) -> None:
    terminal = Terminal("hold", "74LS00", "--port", port, data=tmp_path)
    terminal.until("POWER ON")
    terminal.press("h")
    terminal.until("held high")
    terminal.press("q")
    assert terminal.end() == 0 and colours(terminal.raw) == set()
