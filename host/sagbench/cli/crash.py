# SPDX-License-Identifier: MIT
"""A mistake of our own: kept in a file, told in a sentence."""
from __future__ import annotations

import os
import platform
import sys
import tempfile
import traceback
from datetime import UTC, datetime


def sentence(error: BaseException, words: list[str]) -> str:
    """Write traceback, versions and command line to a file; returns what to tell the user."""
    what = f"{type(error).__name__}: {error}".split("\n")[0]
    try:
        handle, path = tempfile.mkstemp(prefix="sagbench-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(_account(error, words))
    except OSError as wrong:
        return f"a mistake in sagbench itself ({what}), and no account of it could be written ({wrong.strerror})."
    return (f"a mistake in sagbench itself ({what}); the account of it is in {path}. "
            "A fixture that was in use powers the chip down by itself.")


def _account(error: BaseException, words: list[str]) -> str:
    from importlib.metadata import PackageNotFoundError, version
    try:
        ours = version("sagbench")
    except PackageNotFoundError:
        ours = "not installed"
    return "\n".join((
        f"{datetime.now(UTC).isoformat(timespec='seconds')}",
        f"sagbench {ours}, Python {sys.version.split()[0]}, {platform.platform()}",
        f"words: {words!r}", "", "".join(traceback.format_exception(error))))
