"""Mistakes in a chip file.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mistake:
    """One mistake: where (1-based), what was found, what was expected there."""

    file: str
    line: int
    column: int
    found: str
    expected: str

    def __str__(self) -> str:
        return (f"{self.file}:{self.line}:{self.column}: found {self.found}, "
                f"expected {self.expected}")


class ChipFileError(ValueError):
    """All mistakes found in one chip file, one line each."""

    def __init__(self, mistakes: list[Mistake]) -> None:
        self.mistakes = mistakes
        super().__init__("\n".join(str(m) for m in mistakes))
