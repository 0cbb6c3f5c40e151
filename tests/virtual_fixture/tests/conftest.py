"""The library must be current before anything here runs.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from virtual_fixture.looking import SEEN

FIXTURE = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session", autouse=True)
def library_is_current() -> None:
    subprocess.run(["make", "-s", "-C", str(FIXTURE)], check=True)


@pytest.fixture(autouse=True)
def nothing_overstressed() -> Iterator[None]:
    """In this folder violations are planted: each test says itself what may be seen."""
    yield
    SEEN.clear()
