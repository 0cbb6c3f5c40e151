"""Helpers of this room stand beside its tests.

SPDX-License-Identifier: MIT
"""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
