"""Virtual chips for the socket of the virtual fixture.  See README.md.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from .chip import Chip, load
from .errors import ChipFileError, Mistake

__all__ = ["Chip", "ChipFileError", "Mistake", "load"]
