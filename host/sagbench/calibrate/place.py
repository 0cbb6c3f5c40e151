"""Where calibrations are: the user's data folder, and which file is the newest. Kept apart, for every sweep asks it.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path

VARIABLE = "SAGBENCH_DATA"


def folder(environment: Mapping[str, str] = os.environ) -> Path:
    """The folder, whether it exists or not."""
    if own := environment.get(VARIABLE):
        return Path(own).expanduser()
    from platformdirs import user_data_path

    return user_data_path("sagbench", appauthor=False)


def file_name(serial: int, made: str) -> str:
    """Name of a calibration made at that moment (ISO 8601, UTC)."""
    return f"calibration-{serial:010d}-{re.sub('[-:]', '', made[:19])}Z.json"


def newest(serial: int) -> Path | None:
    """The file of the last calibration of that fixture, if there is one."""
    place = folder()
    return max(place.glob(f"calibration-{serial:010d}-*.json"), default=None) if place.is_dir() else None
