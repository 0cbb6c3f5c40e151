"""The guide's commands, as it tells them: each with the fixture, the exit code and the lines typed that stand beside it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import contextlib
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import rig

GUIDE = rig.ROOT / "host/sagbench/guide/EVENING.md"
DEMO = rig.ROOT / "tests/virtual_fixture/chips/demo"


@dataclass(frozen=True)
class Command:
    """A line of the guide: fixture's words, the command's words, what is typed to it, the exit code it is to have."""

    fixture: tuple[str, ...]
    words: tuple[str, ...]
    typed: str
    code: int


def commands(text: str) -> list[Command]:
    """All commands of a guide, in order."""
    found: list[Command] = []
    fixture: tuple[str, ...] = ()
    inside = False
    for line in text.splitlines():
        if told := re.fullmatch(r"<!-- fixture: (.*) -->", line):
            fixture = tuple(told[1].split())
        elif line.startswith("```"):
            inside = line == "```sh"
        elif inside and line.strip():
            command, _, comment = line.partition("   # ")
            typed = re.search(r"type: (.*)", comment)
            code = re.search(r"ends with (\d+)", comment)
            lines = "".join(f"{word.strip()}\n" for word in typed[1].split(",")) if typed else ""
            found.append(Command(fixture, tuple(shlex.split(command.split("  #")[0])), lines, int(code[1]) if code else 0))
    return found


def run(folder: Path) -> Iterator[tuple[Command, subprocess.CompletedProcess[str]]]:
    """Carry out the guide in an empty folder, which is also the user's home."""
    now: tuple[str, ...] = ()
    port = ""
    with contextlib.ExitStack() as stack:
        for command in commands(GUIDE.read_text(encoding="utf-8")):
            if command.fixture != now:
                stack.close()
                now = command.fixture
                words = [str(DEMO / word) if word.endswith(".toml") else word for word in now]
                port = stack.enter_context(rig.virtual_fixture(*words, "--seed", "7", "--fast")).port
            env = {**rig.ENV, "SAGBENCH_PORT": port, "SAGBENCH_DATA": str(folder / "data"), "SAGBENCH_PARTS": str(folder / "parts")}
            assert command.words[0] == "sagbench"
            yield command, subprocess.run([sys.executable, "-m", *command.words], cwd=folder, env=env, input=command.typed, text=True,
                                          capture_output=True, timeout=300, check=False)
