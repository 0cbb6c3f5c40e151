"""Logic of the parts, one readable class each, entered under the part's number.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from . import bus, cmos, counters, flipflops, gates, monostables, selectors, shifters
from .model import OFF, PARTS, Part, key_parts, part_of

__all__ = ["OFF", "PARTS", "Part", "bus", "cmos", "counters", "flipflops", "gates", "key_parts", "monostables",
           "part_of", "selectors", "shifters"]
