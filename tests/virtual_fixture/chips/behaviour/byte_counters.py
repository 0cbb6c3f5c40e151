"""Eight-bit counters and shift registers with a second register: '589 to '599.

Pinouts and tables: the makers' data books, from memory unless noted.  A register and what feeds it clocked together: it takes
what was there before.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .model import OFF, Levels, Part, part
from .shifters_more import BUS8

LETTERS = "ABCDEFGH"
Q8 = "QA QB QC QD QE QF QG QH"


def byte(count: int) -> Levels:
    return {f"Q{n}": count >> k & 1 for k, n in enumerate(LETTERS)}


class CounterOut(Part):
    """CCK counts while CCKEN/ is low, CCLR/ clears at once, RCK takes the count; G/ low: on.  RCO/ low at 255."""

    pins = "QB QC QD QE QF QG QH GND RCO/ CCLR/ CCK CCKEN/ RCK G/ QA VCC"
    outputs = f"{Q8} RCO/"
    hidden: ClassVar[int] = OFF
    loads: ClassVar = {"CCLR/": 0.5}

    def power_up(self) -> None:
        self.count, self.kept = self.rng.getrandbits(8), self.rng.getrandbits(8)

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("RCK"):
            self.kept = self.count
        if not v["CCLR/"]:
            self.count = 0
        elif self.rose("CCK") and not v["CCKEN/"]:
            self.count = (self.count + 1) % 256
        out = {n: self.hidden if v["G/"] else level for n, level in byte(self.kept).items()}
        return out | {"RCO/": int(self.count != 255)}


@part("590")
class CounterOutThreeState(CounterOut):
    """Off while G/ is high."""
    families = "LS HC"
    three_state = Q8
    drive: ClassVar = {"RCO/": "gate3", "Q?": "latch3"}


@part("591")
class CounterOutOpen(CounterOut):
    """Open collectors: high while G/ is high."""
    families = "LS"
    open_collector, hidden = Q8, 1
    drive: ClassVar = {"RCO/": "gate3", "Q?": "latch3"}


class CounterIn(Part):
    """A register loaded by RCK, and a counter: CLOAD/ takes the register, CCLR/ clears, both at once, clear rules."""

    drive: ClassVar = {"RCO/": "gate3"}
    loads: ClassVar = {"CCLR/": 0.5}

    def power_up(self) -> None:
        self.count, self.register = self.rng.getrandbits(8), self.rng.getrandbits(8)

    def step(self, v: Levels, taken: list[int] | None, enabled: bool) -> None:
        """`taken`: the data, where RCK takes them now."""
        if taken is not None:
            self.register = sum(bit << k for k, bit in enumerate(taken))
        if not v["CCLR/"]:
            self.count = 0
        elif not v["CLOAD/"]:
            self.count = self.register
        elif self.rose("CCK") and enabled:
            self.count = (self.count + 1) % 256


@part("592")
class CounterIn592(CounterIn):
    """Data pins, and the carry as the only output."""
    families = "LS"
    pins = "B C D E F G H GND RCO/ CCLR/ CCK CCKEN/ RCK CLOAD/ A VCC"
    outputs = "RCO/"

    def evaluate(self, v: Levels) -> Levels:
        self.step(v, [v[n] for n in LETTERS] if self.rose("RCK") else None, not v["CCKEN/"])
        return {"RCO/": int(self.count != 255)}


@part("593")
class CounterIn593(CounterIn):
    """Data and count on the same pins, on while G is high and G/ low; CCKEN high or CCKEN/ low counts; RCKEN/ low lets RCK.

    W. Toomey, "Understanding the 74LS593" (read), who found out at the chip where two sheets differ.
    """
    families = "LS"
    pins = f"{BUS8} CLOAD/ GND RCO/ CCLR/ CCK CCKEN/ CCKEN RCK RCKEN/ G/ G VCC"
    outputs = " ".join(f"<>{n}" for n in BUS8.split()) + " RCO/"
    three_state = BUS8
    drive: ClassVar = {"RCO/": "gate3", "?/Q?": "latch3"}

    def evaluate(self, v: Levels) -> Levels:
        takes = self.rose("RCK") and not v["RCKEN/"]
        self.step(v, [v[n] for n in BUS8.split()] if takes else None, bool(v["CCKEN"] or not v["CCKEN/"]))
        on = v["G"] and not v["G/"]
        return {n: self.count >> k & 1 if on else OFF for k, n in enumerate(BUS8.split())} | {
            "RCO/": int(self.count != 255)}


class ShiftOut(Part):
    """SRCK shifts, RCK takes all eight; SRCLR/ clears the shift register, RCLR/ (where there is one) the other."""

    outputs = f"{Q8} QH'"
    drive: ClassVar = {"QH'": "gate3", "Q?": "latch3"}

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]
        self.kept = [self.random_bit() for _ in range(8)]

    def hidden(self, v: Levels) -> int | None:
        """What the outputs are while they do not show the register, else None."""
        return None

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("RCK"):
            self.kept = list(self.bits)
        if not v.get("RCLR/", 1):
            self.kept = [0] * 8
        if not v.get("SRCLR/", 1):
            self.bits = [0] * 8
        elif self.rose("SRCK"):
            self.bits = [v["SER"], *self.bits[:7]]
        hidden = self.hidden(v)
        out = {f"Q{n}": bit if hidden is None else hidden for n, bit in zip(LETTERS, self.kept, strict=True)}
        return out | {"QH'": self.bits[7]}


@part("594")
class ShiftOut594(ShiftOut):
    """Both registers with clear."""
    families = "LS HC"
    pins = "QB QC QD QE QF QG QH GND QH' SRCLR/ SRCK RCK RCLR/ SER QA VCC"


@part("595")
class ShiftOut595(ShiftOut):
    """Off while G/ is high."""
    families = "LS HC HCT"
    pins = "QB QC QD QE QF QG QH GND QH' SRCLR/ SRCK RCK G/ SER QA VCC"
    three_state = Q8

    def hidden(self, v: Levels) -> int | None:
        return OFF if v["G/"] else None


@part("596")
class ShiftOut596(ShiftOut595):
    """Open collectors: high while G/ is high."""
    families = "LS"
    open_collector, three_state = Q8, ""

    def hidden(self, v: Levels) -> int | None:
        return 1 if v["G/"] else None


@part("599")
class ShiftOut599(ShiftOut594):
    """The '594 with open collectors."""
    families = "LS"
    open_collector = Q8


class ShiftIn(Part):
    """A register loaded by RCK; the shift register takes it at once while told to, else SRCK shifts."""

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]
        self.register = [self.random_bit() for _ in range(8)]

    def take(self, v: Levels) -> None:
        if self.rose("RCK"):
            self.register = [v[n] for n in LETTERS]


@part("597")
class ShiftIn597(ShiftIn):
    """SRLOAD/ low takes the register, SRCLR/ low clears; what both together leave the tables do not say: drawn."""
    families = "LS HC HCT"
    pins = "B C D E F G H GND QH' SRCLR/ SRCK RCK SRLOAD/ SER A VCC"
    outputs = "QH'"
    drive = "gate3"

    def power_up(self) -> None:
        super().power_up()
        self.clear_wins = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        self.take(v)
        if not v["SRCLR/"] and (v["SRLOAD/"] or self.clear_wins):
            self.bits = [0] * 8
        elif not v["SRLOAD/"]:
            self.bits = list(self.register)
        elif self.rose("SRCK"):
            self.bits = [v["SER"], *self.bits[:7]]
        return {"QH'": self.bits[7]}


@part("589")
class ShiftIn589(ShiftIn):
    """S/P low takes the register, high lets SRCK shift; QH off while OE/ is high."""
    families = "HC"
    pins = "B C D E F G H GND QH OE/ SRCK RCK S/P SER A VCC"
    outputs = "QH"
    three_state, drive = "*", "data3"

    def evaluate(self, v: Levels) -> Levels:
        self.take(v)
        if not v["S/P"]:
            self.bits = list(self.register)
        elif self.rose("SRCK"):
            self.bits = [v["SER"], *self.bits[:7]]
        return {"QH": OFF if v["OE/"] else self.bits[7]}
