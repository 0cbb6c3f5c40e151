"""More decoders, and a priority encoder.

Pinouts and tables: the makers' data books, from memory; '45 and '141 for codes above nine: Fairchild DM7445
and the '141's sheet (read).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import OFF, Levels, Part, part
from .selectors import DecimalDecoder, Decoder3to8, Decoder4to16, DualDecoder2to4, PriorityOctal


class Coded(DecimalDecoder):
    """One of ten outputs low: the one whose code stands at the inputs.  `codes`: of the digits 0..9."""

    codes: tuple[int, ...] = tuple(range(10))

    def evaluate(self, v: Levels) -> Levels:
        code = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        return {f"Y{k}": int(code != own) for k, own in enumerate(self.codes)}


@part("43")
class ExcessThreeDecoder(Coded):
    """Excess-3 code: digit plus three."""
    codes, families = tuple(range(3, 13)), "TTL L"


@part("44")
class ExcessThreeGrayDecoder(Coded):
    """Excess-3 Gray code: neighbouring digits differ in one bit."""
    codes, families = tuple((k + 3) ^ (k + 3) >> 1 for k in range(10)), "TTL L"


@part("45")
class LampDecoder(DecimalDecoder):
    """The '42 with open collectors for 30 V and 80 mA."""
    open_collector, drive, families = DecimalDecoder.outputs, "lamp", "TTL"


@part("445")
class LampDecoderLow(DecimalDecoder):
    """The '45 for 7 V."""
    open_collector, drive, families = DecimalDecoder.outputs, "lamp", "LS"


@part("141")
class ColdCathodeDecoder(DecimalDecoder):
    """Drives the cathodes of an indicator tube, 7 mA at 60 V; none for 10..15."""
    pins = "Y8 Y9 A D VCC B C Y2 Y3 Y7 Y6 GND Y4 Y5 Y1 Y0"
    open_collector, families = DecimalDecoder.outputs, "TTL"


@part("41")
class ColdCathodeDecoderFirst(ColdCathodeDecoder):
    """The '141's forerunner: what 10..15 light is not in the table, so it is drawn by lot: nothing, or
    the digits 0..5 (seen by users)."""
    families = "TTL"

    def power_up(self) -> None:
        self.wraps = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        if self.wraps and v["D"] and (v["B"] or v["C"]):
            code = v["A"] + 2 * v["B"] + 4 * v["C"] - 2
            return {f"Y{k}": int(k != code) for k in range(10)}
        return super().evaluate(v)


class StoredDecoder(Decoder3to8):
    """The '138's outputs behind a stored address; G1 high and G2/ low: on."""

    inverted = 0

    def power_up(self) -> None:
        self.address = self.rng.randrange(8)

    def takes_address(self, v: Levels) -> bool:
        """The address inputs are stored now: transparent while GL/ is low."""
        return not v["GL/"]

    def evaluate(self, v: Levels) -> Levels:
        if self.takes_address(v):
            self.address = v["A"] + 2 * v["B"] + 4 * v["C"]
        chosen = self.address if v["G1"] and not v["G2/"] else None
        return {f"Y{k}": int(k != chosen) ^ self.inverted for k in range(8)}


@part("131")
class RegisteredDecoder(StoredDecoder):
    """Address taken at the positive edge of CLK."""
    pins = "A B C CLK G2/ G1 Y7 GND Y6 Y5 Y4 Y3 Y2 Y1 Y0 VCC"
    families = "AS ALS"

    def takes_address(self, v: Levels) -> bool:
        return self.rose("CLK")


@part("137")
class LatchedDecoder(StoredDecoder):
    """Address latch, outputs active low."""
    pins = "A B C GL/ G2/ G1 Y7 GND Y6 Y5 Y4 Y3 Y2 Y1 Y0 VCC"
    families = "S LS AS ALS HC HCT"


@part("237")
class LatchedDecoderHigh(LatchedDecoder):
    """The '137 with outputs active high."""
    inverted, families = 1, "HC HCT"


@part("238")
class Decoder3to8High(Decoder3to8):
    """The '138 with outputs active high."""
    families = "HC HCT"

    def evaluate(self, v: Levels) -> Levels:
        return {n: 1 - level for n, level in super().evaluate(v).items()}


@part("239")
class DualDecoder2to4High(DualDecoder2to4):
    """The '139 with outputs active high."""
    families = "HC HCT"

    def evaluate(self, v: Levels) -> Levels:
        return {n: 1 - level for n, level in super().evaluate(v).items()}


@part("159")
class Decoder4to16Open(Decoder4to16):
    """The '154 with open collectors."""
    open_collector, families = Decoder4to16.outputs, "TTL"


@part("348")
class PriorityOctalThreeState(PriorityOctal):
    """The '148 with its code switched off while EI is high or no input is low."""
    three_state, drive, families = "A0 A1 A2", {"A?": "bus"}, "LS"

    def evaluate(self, v: Levels) -> Levels:
        out = super().evaluate(v)
        return out | ({f"A{k}": OFF for k in range(3)} if v["EI"] or out["GS"] else {})


@part("185")
class BinaryToDecimal(Part):
    """Binary to BCD but for the lowest bit, which is the same in both: 2 x EDCBA in tens (Y6..Y4) and
    in halves of the units (Y3..Y1); Y7 and Y8 high; all high while G/ is high."""
    pins = "Y1 Y2 Y3 Y4 Y5 Y6 Y7 GND Y8 A B C D E G/ VCC"
    outputs = open_collector = "Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8"
    loads, families = {"*": 0.6}, "TTL"

    def evaluate(self, v: Levels) -> Levels:
        number = 2 * sum(v[n] << k for k, n in enumerate("ABCDE"))
        word = 0xC0 | number // 10 << 3 | number % 10 >> 1
        return {f"Y{k + 1}": 1 if v["G/"] else word >> k & 1 for k in range(8)}
