"""Logic of the parts, one readable class each, entered under the part's number.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from . import (
    arithmetic, bus, byte_counters, cmos, cmos_counters, cmos_decoders, cmos_gates, cmos_registers,
    cmos_selectors, comparators, counters, counters_more, counters_with_registers, decoders, flipflops, gates,
    jk_flipflops, memories, monostables, registers, segments, selectors, selectors_more, shifters,
    shifters_more, transceivers, ttl_buffers, ttl_gates, wide_registers,
)
from .model import OFF, PARTS, Part, key_parts, part_of

__all__ = [
    "OFF", "PARTS", "Part", "arithmetic", "bus", "byte_counters", "cmos", "cmos_counters", "cmos_decoders",
    "cmos_gates", "cmos_registers", "cmos_selectors", "comparators", "counters", "counters_more",
    "counters_with_registers", "decoders", "flipflops", "gates", "jk_flipflops", "key_parts", "memories",
    "monostables", "part_of", "registers", "segments", "selectors", "selectors_more", "shifters",
    "shifters_more", "transceivers", "ttl_buffers", "ttl_gates", "wide_registers",
]
