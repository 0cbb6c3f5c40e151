"""Decoders, multiplexers, arithmetic.  Pinouts and tables: data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import Levels, Part, and_, part


@part("138")
class Decoder3to8(Part):
    """One of eight outputs low while G1 is high and both G2 are low."""
    pins = "A B C G2A/ G2B/ G1 Y7 GND Y6 Y5 Y4 Y3 Y2 Y1 Y0 VCC"
    outputs = "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7"

    def evaluate(self, v: Levels) -> Levels:
        enabled = v["G1"] and not v["G2A/"] and not v["G2B/"]
        chosen = v["A"] + 2 * v["B"] + 4 * v["C"] if enabled else None
        return {f"Y{k}": 0 if k == chosen else 1 for k in range(8)}


@part("139")
class DualDecoder2to4(Part):
    """Each half: one of four outputs low while G/ is low."""
    pins = "1G/ 1A 1B 1Y0 1Y1 1Y2 1Y3 GND 2Y3 2Y2 2Y1 2Y0 2B 2A 2G/ VCC"
    outputs = "1Y0 1Y1 1Y2 1Y3 2Y0 2Y1 2Y2 2Y3"

    def evaluate(self, v: Levels) -> Levels:
        chosen = {h: None if v[f"{h}G/"] else v[f"{h}A"] + 2 * v[f"{h}B"] for h in "12"}
        return {f"{h}Y{k}": 0 if k == chosen[h] else 1 for h in "12" for k in range(4)}


@part("153")
class DualMultiplexer4(Part):
    """Each half: Y = the selected C input while G/ is low, else low."""
    pins = "1G/ B 1C3 1C2 1C1 1C0 1Y GND 2Y 2C0 2C1 2C2 2C3 A 2G/ VCC"
    outputs = "1Y 2Y"

    def evaluate(self, v: Levels) -> Levels:
        k = v["A"] + 2 * v["B"]
        return {f"{h}Y": 0 if v[f"{h}G/"] else v[f"{h}C{k}"] for h in "12"}


@part("157")
class QuadMultiplexer2(Part):
    """Y = B when S is high, A when it is low; all low while G/ is high."""
    pins = "S 1A 1B 1Y 2A 2B 2Y GND 3Y 3B 3A 4Y 4B 4A G/ VCC"
    outputs = "1Y 2Y 3Y 4Y"
    family_loads = {"LS": {"S": 2, "G/": 2}, "S": {"S": 2, "G/": 2}}

    def evaluate(self, v: Levels) -> Levels:
        side = "B" if v["S"] else "A"
        return {f"{k}Y": 0 if v["G/"] else v[f"{k}{side}"] for k in "1234"}


@part("181")
class ArithmeticUnit(Part):
    """Four-bit arithmetic logic unit, active-high data.

    Per bit, with U = A + B S0 + not B S1 and W = A not B S2 + A B S3, the data
    book's table is F = U plus W plus carry (M low), F = not (U xor W) (M high).
    Carries are active low at the pins; P and G are the group terms of the
    complemented chain: P = not (not W0 .. not W3).
    """
    pins = "B0 A0 S3 S2 S1 S0 CN M F0 F1 F2 GND F3 A=B P CN4 G B3 A3 B2 A2 B1 A1 VCC"
    outputs = "F0 F1 F2 F3 A=B P CN4 G"
    open_collector = "A=B"
    loads = ({f"{x}{k}": 3 for x in "AB" for k in range(4)}
             | {f"S{k}": 4 for k in range(4)} | {"CN": 5})

    def evaluate(self, v: Levels) -> Levels:
        carry, no_generate, all_pass, out = 1 - v["CN"], 1, 1, {}
        for k in range(4):
            a, b = v[f"A{k}"], v[f"B{k}"]
            u = a | b & v["S0"] | (1 - b) & v["S1"]
            w = a & (1 - b) & v["S2"] | a & b & v["S3"]
            out[f"F{k}"] = u ^ w ^ (1 if v["M"] else carry)
            carry = w | u & carry
            # Complemented chain: bit k generates "no carry" when U is low, passes it
            # when W is low.
            no_generate = (1 if not u else 0) | (1 - w) & no_generate if k else 1 - u
            all_pass &= 1 - w
        out["P"] = 1 - all_pass
        out["G"] = 1 - no_generate
        out["CN4"] = 1 - carry
        out["A=B"] = and_(*(out[f"F{k}"] for k in range(4)))
        return out
