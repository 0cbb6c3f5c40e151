"""The user's settings: defaults for options, in one file.

    $SAGBENCH_SETTINGS                          if set; set but empty: there are none
    settings.toml beside the folder of the user's own parts (~/.config/sagbench on Linux)

    port = "/dev/ttyUSB0"       # of the fixture
    guard = 1.0                 # guard band in units of U
    parts_dirs = ["~/parts"]    # further folders of part files
    silent = true               # no tones in a lot
    small = false               # no large letters in a lot or a soak
    lines = false               # lot, soak and hold line by line, no full screen: for a screen reader

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from sagbench.errors import PartFileError

VARIABLE = "SAGBENCH_SETTINGS"
NAME = "settings.toml"
KINDS: Mapping[str, tuple[type | tuple[type, ...], str]] = {
    "port": (str, 'a text such as "/dev/ttyUSB0"'),
    "guard": ((int, float), "a number of U from 0 to 10"),
    "parts_dirs": (list, 'a list of folders such as ["~/parts"]'),
    "silent": (bool, "true or false"),
    "small": (bool, "true or false"),
    "lines": (bool, "true or false"),
}


def path(environment: Mapping[str, str] = os.environ) -> Path | None:
    """The file, whether it exists or not; None if there is to be none."""
    if (own := environment.get(VARIABLE)) is not None:
        return Path(own).expanduser() if own else None
    from sagbench.parts.userdir import VARIABLE as PARTS, folder

    beside = folder({key: value for key, value in environment.items() if key != PARTS})
    return beside.parent / NAME if beside else None


@cache
def settings() -> Mapping[str, Any]:
    """What the file says; nothing if there is none.  Raises PartFileError with a line for each mistake."""
    where = path()
    if where is None or not where.is_file():
        return {}
    return read(where)


def none_if_wrong() -> str:
    """Go on without settings if there are mistakes in them, which are returned: for who only asks for help."""
    try:
        settings()
    except PartFileError as wrong:
        os.environ[VARIABLE] = ""
        return str(wrong)
    return ""


def read(where: Path) -> Mapping[str, Any]:
    """The settings in a file.  Raises PartFileError."""
    try:
        return parse(where.read_text(encoding="utf-8-sig"), where)
    except OSError as wrong:
        raise PartFileError((f"{where}: cannot be read ({wrong.strerror}); mend it or move it away.",)) from None
    except UnicodeDecodeError as wrong:
        line = where.read_bytes()[: wrong.start].count(b"\n") + 1
        raise PartFileError((f"{where}:{line}:1: is no text in UTF-8; save it as that.",)) from None


def parse(text: str, where: Path) -> Mapping[str, Any]:
    """The settings in a text; where: for the sentences.  Raises PartFileError."""
    from sagbench.parts.reader import parse_toml

    found, wrong = parse_toml(text, str(where))
    if wrong:
        raise PartFileError(tuple(wrong))
    if mistakes := tuple(_mistakes(where, text, found)):
        raise PartFileError(mistakes)
    return found


def _mistakes(where: Path, text: str, found: Mapping[str, Any]) -> list[str]:
    told = []
    for key, value in found.items():
        at = re.search(rf'^\s*\[?\s*["\']?{re.escape(key)}\b', text, re.MULTILINE)
        place = f"{where}:{text[: at.end()].count(chr(10)) + 1 if at else 1}:1"
        if key not in KINDS:
            told.append(f"{place}: there is no setting {key}; there are {', '.join(KINDS)}.")
        elif not _fits(key, value):
            told.append(f"{place}: {key} is {value!r}; it must be {KINDS[key][1]}.")
    return told


def _fits(key: str, value: Any) -> bool:
    kind, _ = KINDS[key]
    if isinstance(value, bool) and kind is not bool or not isinstance(value, kind):
        return False
    if key == "guard":
        return bool(0 <= value <= 10)
    return key != "parts_dirs" or all(isinstance(folder, str) for folder in value)
