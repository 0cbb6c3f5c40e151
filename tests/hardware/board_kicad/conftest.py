"""What the tests with KiCad share: the files for the board house, made once from the committed board.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
SYSTEM_PYTHON = "/usr/bin/python3"  # KiCad's pcbnew is built for it


@pytest.fixture(scope="session")
def fabricated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with Gerbers, drill files, drc.txt and pictures."""
    out = tmp_path_factory.mktemp("board")
    done = subprocess.run(
        [SYSTEM_PYTHON, "-m", "hardware.board.fabricate", str(out)], cwd=ROOT, text=True, capture_output=True, check=False
    )
    assert (out / "drc.txt").is_file(), done.stderr
    return out
