"""Watches what Python does while a file is read: no other program, no network, no file that is none of its business.

Python's own audit events (PEP 578) tell of every open file, started process and socket, whoever asks for it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NEVER = ("os.system", "os.exec", "os.posix_spawn", "os.spawn", "os.fork", "os.forkpty", "subprocess.Popen", "socket.connect", "socket.bind",
         "socket.getaddrinfo", "urllib.Request", "pty.spawn", "code.__new__", "os.putenv", "webbrowser.open", "ftplib.connect")
CHANGES = ("os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.truncate", "os.chmod", "os.link", "os.symlink", "shutil.rmtree")
# All that equations may come to as Python: names made by the compiler itself, and operators on them.
EQUATIONS = re.compile(r"def evaluate\(p1, p0, s1, s0, every, f1, f0, k1, k0\):\n(?: (?:return )?[\[\]apzskfvery\d &|^~=;,()\n10]*)+")

_watch: dict[str, Any] = {}


def _inside(path: str, roots: tuple[str, ...]) -> bool:
    full = os.path.realpath(path)
    return any(full == root or full.startswith(root + os.sep) for root in roots)


def _hook(event: str, arguments: tuple[Any, ...]) -> None:
    if not _watch:
        return
    if event in NEVER:
        _watch["seen"].append(f"{event} {arguments!r}"[:300])
    elif event == "open" and isinstance(arguments[0], str | bytes | os.PathLike):
        path, mode, flags = os.fsdecode(arguments[0]), arguments[1], arguments[2]
        writes = bool(mode and set(mode) & set("wax+")) or bool(isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR))
        if not _inside(path, _watch["write"] if writes else _watch["read"]):
            _watch["seen"].append(f"open {path!r} {mode or flags}"[:300])
    elif event in CHANGES and not _inside(os.fsdecode(arguments[0]), _watch["write"]):
        _watch["seen"].append(f"{event} {arguments!r}"[:300])
    elif event == "compile" and arguments[1] == "<equations>":
        source = arguments[0].decode() if isinstance(arguments[0], bytes) else arguments[0]
        if not isinstance(source, str) or not EQUATIONS.fullmatch(source + "\n"):
            _watch["seen"].append(f"compile {source!r}"[:300])


sys.addaudithook(_hook)


@contextlib.contextmanager
def watched(work: Path, *also: Path) -> Iterator[list[str]]:
    """What must not happen and did, as it comes. Files may be read in work, also and where Python is; written in work alone."""
    python = {os.path.realpath(p) for p in (sys.prefix, sys.base_prefix, *filter(None, sys.path))}
    seen: list[str] = []
    write = (os.path.realpath(work), os.devnull)
    kept, sys.dont_write_bytecode = sys.dont_write_bytecode, True       # of modules imported on the way
    _watch.update(seen=seen, write=write, read=(*write, *(os.path.realpath(p) for p in also), *python, "/usr/share/zoneinfo"))
    try:
        yield seen
    finally:
        _watch.clear()
        sys.dont_write_bytecode = kept
