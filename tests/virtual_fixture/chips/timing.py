"""Timing cells of monostables: a specimen's draw, its elements in C, and the true width.

Numbers and sources are in timing.toml, the mechanism in timer.c.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import math
import random
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from . import families
from .behaviour.monostables import Monostable

BASE_BELOW_V = 0.12               # a base counts as on with 10 uA: 26 mV x ln 100 below 1 mA
LET_GO_SHARE = 0.3                # of the delay: as in timer.c
BENCH_OHM, BENCH_F, BENCH_V = 10e3, 1e-9, 5.0   # at which timing.toml has the book's spans


@cache
def _tables() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_name("timing.toml").read_text(encoding="utf-8"))


def families_of(number: str) -> list[str]:
    """Families whose timing is known for a part number."""
    return [k for k, v in _tables()["part"].get(number, {}).items() if isinstance(v, dict)]


def book_span(number: str, family: str) -> tuple[float, float] | None:
    """Seconds, [least, most], at BENCH_OHM and BENCH_F; None if the book has no such part."""
    entry = _tables()["part"].get(number, {}).get(family)
    return (entry["book_us"][0] * 1e-6, entry["book_us"][1] * 1e-6) if entry else None


@dataclass(frozen=True)
class Cell:
    """One timing cell.  Volts against GND, amperes, ohms, farads, seconds.

    factor: K, a fault's factor included.  silent, endless: faults.
    """

    pin: str
    coupled: bool
    factor: float
    low_v: float
    low_share: float
    floor_v: float
    on_ohm: float
    up_ohm: float
    bias_a: float
    delay_s: float
    stray_f: float
    base_v: float
    silent: bool
    endless: bool

    @property
    def high(self) -> tuple[float, float]:
        """Level at which the pulse ends: volts, share of the supply.

        From the formula: what emptying and delays leave of K is ln((VCC - low) / (VCC - high)).
        """
        if self.coupled:
            return self.base_v - BASE_BELOW_V, 0.0
        other = (self._fall_s(BENCH_OHM, BENCH_F, BENCH_V) + self.delay_s) / (BENCH_OHM * BENCH_F)
        left = math.exp(-max(self.factor - other, 0.02))
        return self.low_v * left, 1 - (1 - self.low_share) * left

    def values(self) -> dict[str, float]:
        """What C wants to know, by its names."""
        high_v, high_share = self.high
        return {"low_v": self.low_v, "low_share": self.low_share,
                "floor_v": self.floor_v, "high_v": high_v,
                "high_share": high_share, "on_ohm": self.on_ohm, "up_ohm": self.up_ohm,
                "delay_s": self.delay_s, "stray_f": self.stray_f, "factor": self.factor,
                "base.vf": self.base_v, "base.n": 1.0, "base.ohm": 60.0}

    def width_s(self, ohm: float, farad: float, vcc: float = 5.0) -> float:
        """True width with `ohm` from the pin to VCC and `farad` where the book wants it.

        0: it never fires; infinity: it does not end.
        """
        if self.silent:
            return 0.0
        if self.endless:
            return math.inf
        if self.coupled:
            return self.delay_s + self.factor * ohm * (farad + self.stray_f)
        end = vcc - self.bias_a * ohm                       # where the pin would go
        low, (high_v, high_share) = self.low_v + self.low_share * vcc, self.high
        high = high_v + high_share * vcc
        rest, tau = self._emptying(ohm, farad, vcc)
        if high >= end or low <= rest:
            return math.inf
        start = low + (rest - low) * -math.expm1(-LET_GO_SHARE * self.delay_s / max(tau, 1e-15))
        return (self._fall_s(ohm, farad, vcc) + self.delay_s
                + ohm * farad * math.log((end - start) / (end - high)))

    def _emptying(self, ohm: float, farad: float, vcc: float) -> tuple[float, float]:
        """Where the pin would end while it is emptied through on_ohm, and the time constant."""
        share = self.on_ohm / (ohm + self.on_ohm)
        return self.floor_v + (vcc - self.floor_v) * share, farad * ohm * share

    def _fall_s(self, ohm: float, farad: float, vcc: float) -> float:
        """From VCC to the low level."""
        rest, tau = self._emptying(ohm, farad, vcc)
        low = self.low_v + self.low_share * vcc
        return tau * math.log((vcc - rest) / (low - rest)) if low > rest else math.inf


def _own(family: str, table: dict[str, Any]) -> Any:
    """The family's entry of a table; one that never existed is like the first of its technology."""
    if family not in table:
        cmos = families.typical(family)["technology"] == "cmos"
        family = next((k for k, v in table.items() if isinstance(v, dict)
                       and (k in ("HC", "HCT", "4000")) == cmos), next(reversed(table)))
    return table[family]


def draw(part: type[Monostable], family: str, rng: random.Random, spread: float,
         faults: list[dict[str, Any]]) -> list[Cell]:
    """The cells of a specimen; spread 0: all typical."""
    entry = dict(_tables()["part"][part.number])
    own = _own(family, _tables()["family"])
    table = ((_tables()["family"][own["like"]] if "like" in own else {}) | own
             | _own(family, entry))
    coupled = entry.get("coupled", False) and families.typical(family)["technology"] == "bipolar"
    makers = table["factor"] if isinstance(table["factor"][0], list) else [table["factor"]]
    maker = makers[rng.randrange(len(makers))]
    cells = []
    for pin, _ in part.timing_pins():
        here = [f for f in faults if part.pin(pin) == f.get("pin")]
        stretch = math.prod(f["factor"] for f in here if f["kind"] == "width")
        value = {k: _drawn(v, rng, spread) for k, v in table.items()
                 if isinstance(v, list) and k not in ("factor", "book_us")}
        cells.append(Cell(
            pin, coupled, _drawn(maker, rng, spread) * stretch, value["low_v"],
            table["low_share"], table.get("floor_v", 0.0), value["on_ohm"], value.get("up_ohm", 0.0), value["bias_ua"] * 1e-6,
            value["delay_ns"] * 1e-9, value.get("stray_pf", 0.0) * 1e-12,
            0.72 + 0.02 * spread * rng.uniform(-1, 1),
            any(f["kind"] == "silent" for f in here), any(f["kind"] == "endless" for f in here)))
    return cells


def resistor_ohm(part: type[Monostable], rng: random.Random, spread: float) -> float:
    """The internal timing resistor of a part that has one."""
    return _drawn(_tables()["part"][part.number]["resistor_ohm"], rng, spread)


def _drawn(entry: list[float], rng: random.Random, spread: float) -> float:
    return entry[0] * (1 + spread * entry[1] * rng.triangular(-1, 1, 0))
