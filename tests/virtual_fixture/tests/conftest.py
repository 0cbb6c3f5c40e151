"""The library must be current before anything here runs.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import subprocess
from pathlib import Path

import pytest

FIXTURE = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session", autouse=True)
def library_is_current() -> None:
    subprocess.run(["make", "-s", "-C", str(FIXTURE)], check=True)
