"""The user's own folder of part files: where it is, and which folders a command reads.

    $SAGBENCH_PARTS                                     if set; set but empty: there is none
    $XDG_CONFIG_HOME/sagbench/parts                     (~/.config/sagbench/parts) on Linux and the BSDs
    ~/Library/Application Support/sagbench/parts        on macOS
    %LOCALAPPDATA%\\sagbench\\parts                       on Windows

The places are the platforms' own (XDG Base Directory Specification 0.8; the tests hold them against the package platformdirs).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

from ..errors import UsageError

VARIABLE = "SAGBENCH_PARTS"


def folder(environment: Mapping[str, str] = os.environ, platform: str = sys.platform) -> Path | None:
    """The user's folder, whether it exists or not; None if there is to be none."""
    if (own := environment.get(VARIABLE)) is not None:
        return Path(own).expanduser() if own else None
    try:
        home = Path(environment["HOME"]) if environment.get("HOME") else Path.home()
    except RuntimeError:                                 # no home directory: a service's account
        return None
    if platform == "darwin":
        base = home / "Library" / "Application Support"
    elif platform == "win32":
        base = Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    else:
        said = environment.get("XDG_CONFIG_HOME", "")
        base = Path(said) if Path(said).is_absolute() else home / ".config"     # the standard: relative ones are ignored
    return base / "sagbench" / "parts"


def folders(given: Iterable[str] = ()) -> list[str]:
    """What a command reads: the user's folder if it is there, then those of --parts-dir, which rule over it.

    Raises UsageError if one that was given is no folder, or holds a part file that cannot be read: which part it
    would have been is not known, so that the library's must not quietly take its place.
    """
    own = folder()
    found = [str(own)] if own and own.is_dir() else []
    for name in given:
        if not Path(name).is_dir():
            raise UsageError(f"there is no folder {name}; --parts-dir takes a folder with part files in it.")
        found.append(name)
    for name in found:
        _must_be_readable(Path(name))
    return found


def _must_be_readable(place: Path) -> None:
    try:
        for path in place.glob("*.toml"):
            with path.open("rb"):
                pass
    except OSError as wrong:
        raise UsageError(f"{wrong.filename or place} cannot be read: {wrong.strerror}; mend that, or move it out of the folder "
                         "of your own parts.") from None
