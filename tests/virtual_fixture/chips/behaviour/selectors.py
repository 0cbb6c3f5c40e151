"""Decoders, multiplexers, arithmetic.  Pinouts and tables: data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import OFF, Levels, Part, and_, part


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


@part("42")
class DecimalDecoder(Part):
    """One of ten outputs low; none for 10..15."""
    pins = "Y0 Y1 Y2 Y3 Y4 Y5 Y6 GND Y7 Y8 Y9 D C B A VCC"
    outputs = "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8 Y9"

    def evaluate(self, v: Levels) -> Levels:
        chosen = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        return {f"Y{k}": 0 if k == chosen else 1 for k in range(10)}


@part("145")
class DecimalDecoderOpen(DecimalDecoder):
    """The '42 with open-collector drivers (80 mA)."""
    open_collector, drive = DecimalDecoder.outputs, "lamp"


@part("147")
class PriorityDecimal(Part):
    """Highest of nine active-low inputs, in active-low BCD."""
    pins = "I4 I5 I6 I7 I8 C B GND A I9 I1 I2 I3 D NC VCC"
    outputs = "A B C D"

    def evaluate(self, v: Levels) -> Levels:
        highest = max((k for k in range(1, 10) if not v[f"I{k}"]), default=0)
        return {n: 1 - (highest >> k & 1) for k, n in enumerate("ABCD")}


@part("148")
class PriorityOctal(Part):
    """Highest of eight active-low inputs, active-low code; EO low: none, GS low: one."""
    pins = "I4 I5 I6 I7 EI A2 A1 GND A0 I0 I1 I2 I3 GS EO VCC"
    outputs = "A0 A1 A2 GS EO"

    def evaluate(self, v: Levels) -> Levels:
        active = [k for k in range(8) if not v[f"I{k}"]]
        if v["EI"]:
            return {"A0": 1, "A1": 1, "A2": 1, "GS": 1, "EO": 1}
        highest = max(active, default=0)
        return {f"A{k}": 1 - (highest >> k & 1) for k in range(3)} | {
            "GS": int(not active), "EO": int(bool(active))}


@part("151")
class Multiplexer8(Part):
    """Y = the selected input, W its complement; G/ high: Y low."""
    pins = "D3 D2 D1 D0 Y W G/ GND C B A D7 D6 D5 D4 VCC"
    outputs = "Y W"

    def evaluate(self, v: Levels) -> Levels:
        y = 0 if v["G/"] else v[f"D{v['A'] + 2 * v['B'] + 4 * v['C']}"]
        return {"Y": y, "W": 1 - y}


@part("251")
class Multiplexer8ThreeState(Multiplexer8):
    """The '151 with outputs off while G/ is high."""
    three_state, drive = "*", "data3"

    def evaluate(self, v: Levels) -> Levels:
        return {"Y": OFF, "W": OFF} if v["G/"] else super().evaluate(v)


@part("154")
class Decoder4to16(Part):
    """One of sixteen outputs low while both G are low."""
    pins = "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8 Y9 Y10 GND Y11 Y12 Y13 Y14 Y15 G1/ G2/ D C B A VCC"
    outputs = " ".join(f"Y{k}" for k in range(16))

    def evaluate(self, v: Levels) -> Levels:
        chosen = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        off = v["G1/"] or v["G2/"]
        return {f"Y{k}": 0 if k == chosen and not off else 1 for k in range(16)}


@part("155")
class DualDecoderCommon(Part):
    """Two 2-to-4 decoders with common address; data 1C (true) and 2C/ (inverted)."""
    pins = "1C 1G/ B 1Y3 1Y2 1Y1 1Y0 GND 2Y0 2Y1 2Y2 2Y3 A 2G/ 2C/ VCC"
    outputs = "1Y0 1Y1 1Y2 1Y3 2Y0 2Y1 2Y2 2Y3"

    def evaluate(self, v: Levels) -> Levels:
        on = {"1": v["1C"] and not v["1G/"], "2": not v["2C/"] and not v["2G/"]}
        chosen = v["A"] + 2 * v["B"]
        return {f"{h}Y{k}": 0 if on[h] and k == chosen else 1 for h in "12" for k in range(4)}


@part("156")
class DualDecoderOpen(DualDecoderCommon):
    """The '155 with open collectors."""
    open_collector = DualDecoderCommon.outputs


@part("158")
class QuadMultiplexer2Inverting(QuadMultiplexer2):
    """The '157 inverted: all high while G/ is high."""

    def evaluate(self, v: Levels) -> Levels:
        return {n: 1 - level for n, level in super().evaluate(v).items()}


@part("257")
class QuadMultiplexer2ThreeState(QuadMultiplexer2):
    """The '157 with outputs off while G/ is high."""
    inverted = 0
    three_state, drive = "*", "latch3"

    def evaluate(self, v: Levels) -> Levels:
        return {n: OFF if v["G/"] else level ^ self.inverted
                for n, level in super().evaluate(v).items()}


@part("258")
class QuadMultiplexer2ThreeStateInverting(QuadMultiplexer2ThreeState):
    """The '257 inverted."""
    inverted = 1


@part("253")
class DualMultiplexer4ThreeState(DualMultiplexer4):
    """The '153 with outputs off while G/ is high."""
    three_state, drive = "*", "data3"

    def evaluate(self, v: Levels) -> Levels:
        return {n: OFF if v[f"{n[0]}G/"] else level for n, level in super().evaluate(v).items()}


@part("85")
class Comparator4(Part):
    """A against B; equal operands pass the cascading inputs, ILT and IGT complemented."""
    pins = "B3 ILT IEQ IGT OGT OEQ OLT GND B0 A0 B1 A1 A2 B2 A3 VCC"
    outputs = "OGT OEQ OLT"

    def evaluate(self, v: Levels) -> Levels:
        a, b = (sum(v[f"{x}{k}"] << k for k in range(4)) for x in "AB")
        if a != b:
            return {"OGT": int(a > b), "OEQ": 0, "OLT": int(a < b)}
        if v["IEQ"]:
            return {"OGT": 0, "OEQ": 1, "OLT": 0}
        return {"OGT": 1 - v["ILT"], "OEQ": 0, "OLT": 1 - v["IGT"]}


@part("283")
class Adder4(Part):
    """S = A plus B plus C0."""
    pins = "S2 B2 A2 S1 A1 B1 C0 GND C4 S4 B4 A4 S3 A3 B3 VCC"
    outputs = "S1 S2 S3 S4 C4"

    def evaluate(self, v: Levels) -> Levels:
        total = v["C0"] + sum((v[f"A{k}"] + v[f"B{k}"]) << (k - 1) for k in range(1, 5))
        return {f"S{k}": total >> (k - 1) & 1 for k in range(1, 5)} | {"C4": total >> 4}


@part("83")
class Adder4Middle(Adder4):
    """The '283 with supply on pins 5 and 12."""
    pins = "A4 S3 A3 B3 VCC S2 B2 A2 S1 A1 B1 GND C0 C4 S4 B4"


@part("280")
class Parity9(Part):
    """EVEN is high for an even number of highs among nine inputs, ODD otherwise."""
    pins = "G H NC I EVEN ODD GND A B C D E F VCC"
    outputs = "EVEN ODD"

    def evaluate(self, v: Levels) -> Levels:
        odd = sum(v[n] for n in "ABCDEFGHI") & 1
        return {"EVEN": 1 - odd, "ODD": odd}


@part("688")
class Equality8(Part):
    """Output low while G/ is low and P = Q."""
    drive = "buffer"                     # ALS, LS: 24 mA (TI SDAS228A, read)
    pins = "G/ P0 Q0 P1 Q1 P2 Q2 P3 Q3 GND P4 Q4 P5 Q5 P6 Q6 P7 Q7 PEQ/ VCC"
    outputs = "PEQ/"

    def evaluate(self, v: Levels) -> Levels:
        same = all(v[f"P{k}"] == v[f"Q{k}"] for k in range(8))
        return {"PEQ/": 0 if same and not v["G/"] else 1}
