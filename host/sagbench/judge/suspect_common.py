"""Suspicions about what all outputs have in common: ground, the supply's bond, and the gain of all of them at once.

What tells them apart (common practice; played with virtual chips):
  ground's resistance   every low level rises in proportion from the first milliampere, and without load it is lifted
                        already, by what the supply current makes of the same ohms
  all have lost gain    the unloaded levels are as low as they should be, and each line bends upward until its current
                        stays and its volts run away
  supply's resistance   high levels are lower, low ones stay

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import hypot
from statistics import median

from sagbench.judge.case import K, Case
from sagbench.judge.failures import Failure, Suspicion
from sagbench.judge.limits import in_amperes, in_volts
from sagbench.judge.suspect_outputs import LIMIT, MOST, most_lost, never_sinks
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Role
from sagbench.parts.ratings import table
from sagbench.record import Outcome

LIFTED_V = 0.05  # so much higher than typical is every low level, if ground itself is lifted
LEAST_OHM = 2.5
MOSTLY, ALIKE_V = 0.7, 0.3  # of the outputs so many, so near to each other
BELOW_V = 1.5  # a low level above this is not one any more
RUN_AWAY_V = 0.8  # nor does one so high hold under the heaviest load
BENDS = 1.6  # times as steep under a heavy load as under a light one: no resistance
LIGHTEST_A = 0.3e-3  # lighter points are too near to each other for a slope


def common(case: Case) -> Iterator[Suspicion]:
    """All suspicions about what outputs share."""
    lines = _Lines(case)
    yield from _ground(case, lines)
    yield from _gain(case, lines)
    yield from _supply_bond(case)


@dataclass
class _Lines:
    """The low sides of all outputs that answer rightly and have contact, beside what is typical of their family."""

    case: Case

    @cached_property
    def points(self) -> dict[int, list[tuple[float, float]]]:
        """(amperes, volts) of each output's low side, light to heavy; of those with two points at least."""
        case, some = self.case, {}
        for p in case.part.outputs:
            wrong = case.has(p.number, "logic", outcome=Outcome.BEYOND, state="")
            if len(points := case.points(p.number, True)) >= 2 and not wrong and not case.bad_contact(p.number):
                some[p.number] = points
        return some

    @cached_property
    def limited(self) -> list[int]:
        """Outputs whose current stays while their volts run away."""
        shapes = {pin: self.case.shape(pin, True) for pin in self.points}
        return [pin for pin, s in shapes.items() if s is not None and s.cliff > LIMIT and max(s.volts) > RUN_AWAY_V and not never_sinks(s)]

    @cached_property
    def lost(self) -> list[int]:
        """Outputs that do not hold their low level."""
        return [p.number for p in self.case.part.outputs if self.case.has(p.number, "VOL", outcome=Outcome.BEYOND, state="")]

    @cached_property
    def about_to_be(self) -> list[int]:
        """Those, and the outputs that hold it hardly beyond their rated current."""
        return [p.number for p in self.case.part.outputs
                if p.number in self.lost or self.case.has(p.number, "VOL", outcome=Outcome.ODD, state="headroom")]

    @cached_property
    def lifts(self) -> list[float]:
        """Volts above what is typical under the lightest load."""
        usual = self.case.typical(True)
        return [points[0][1] - usual(points[0][0]) for points in self.points.values()] if usual else []

    @cached_property
    def rises(self) -> list[float]:
        """Ohms more than typical, from the lightest to the heaviest load that an output bears; not of those that hit a limit."""
        usual, ohms = self.case.typical(True), []
        for pin, points in self.points.items():
            (i1, v1), (i2, v2) = points[0], points[-1] if points[-1][1] < BELOW_V else points[1]
            if usual and pin not in self.limited and i2 > i1 + 1e-4:
                ohms.append((v2 - v1) / (i2 - i1) - (usual(i2) - usual(i1)) / (i2 - i1))
        return ohms

    @cached_property
    def bends(self) -> list[float]:
        """How many times as steep each line is at its heavy end as at its light one."""
        out = []
        for points in self.points.values():
            slopes = [(v2 - v1) / (i2 - i1) for (i1, v1), (i2, v2) in pairwise(p for p in points if p[0] > LIGHTEST_A) if i2 > i1]
            if len(slopes) > 1 and slopes[0] > 0:
                out.append(slopes[-1] / slopes[0])
        return out


def _ground(case: Case, lines: _Lines) -> Iterator[Suspicion]:
    """A resistance in the ground bond lifts all low levels alike: by the supply current without load, by more under load."""
    if len(lines.points) < 2 or not lines.lifts:
        yield from _lifted(case)
        return
    limited = len(lines.limited) >= MOST * len(lines.points)
    lifted, ohm = median(lines.lifts), median(lines.rises) if len(lines.rises) > 1 and not limited else 0.0
    all_lose = most_lost(case)
    if ohm < LEAST_OHM and lifted < LIFTED_V and not all_lose or not lines.lost and lifted < LIFTED_V and not case.chip("unlike its family"):
        return
    ground, spread = case.part.ground.number, max(lines.rises, default=0.0) - min(lines.rises, default=0.0)
    about = f"about {ohm:.0f} ohm" if ohm > _doubt_ohm(case) else "a resistance"
    is_ = "are" if about.endswith("ohm") else "is"
    made = Suspicion(Failure.SERIES, ground, f"there {is_} {about} in the way of {case.name(ground)}: a bond, or the metal")
    hold = len(case.part.outputs) - len(lines.lost)
    made.clue(1.0, f"{_of(lines.lost, len(case.part.outputs))} lose their low level", when=all_lose)
    made.clue(-3.5, f"{hold} of its outputs hold their low level", when=lines.lost and hold > len(lines.lost))
    made.clue(2.5, f"all outputs are {in_volts(lifted)} higher than is typical under the lightest load", when=lifted > LIFTED_V)
    made.clue(2.5, f"all low levels rise by some {ohm:.0f} ohm more than is typical", when=ohm > LEAST_OHM)
    made.clue(2.0, "all outputs are alike in it", when=not limited and spread < max(0.5 * ohm, 3.0))
    made.clue(-2.5, "the outputs differ in it", when=not limited and spread > max(1.5 * ohm, 12.0))
    bend = median(lines.bends or [1.0])
    made.clue(-4.0, "the outputs' current hits a limit, which no resistance does", when=limited)
    made.clue(-2.0, f"low levels rise {bend:.1f} times as fast under a heavy load as under a light one", when=bend > BENDS and not limited)
    _by_supply_current(case, made, lifted, ohm)
    made.clue(-6.0, "the silicon is of another family", when=case.chip("wrong family"))
    yield made


def _by_supply_current(case: Case, made: Suspicion, lifted: float, ohm: float) -> None:
    """Without load the supply current alone flows through ground's resistance: more or less than that speaks against it."""
    drawn = [f.value.value for f in case.record.supply if f.value is not None]
    if not drawn or ohm < LEAST_OHM or not case.bipolar:
        return
    least, most, doubt = min(drawn) * ohm, max(drawn) * ohm, K * _typical(case, "vol_light_v", "sd")
    flows = in_amperes(max(drawn))
    made.clue(1.0, f"its own supply current, {flows}, lifts them over so many ohm by about as much",
              when=lifted > LIFTED_V and least / 2 < lifted < most + doubt)
    made.clue(-2.0, f"without load they are not lifted, though the supply current, {flows}, would lift them over so many ohm",
              when=lifted + doubt < least)


def _of(pins: Sequence[int], count: int) -> str:
    """ "all 4 outputs", "both outputs", "3 of its 4 outputs"."""
    return f"{len(pins)} of its {count} outputs" if len(pins) < count else "both outputs" if count == 2 else f"all {count} outputs"


def _typical(case: Case, name: str, what: str) -> float:
    usual = table(case.part.family or PLAIN).get("typical")
    return float(usual[name][what]) if usual else 0.0


def _doubt_ohm(case: Case) -> float:
    """What sound outputs of the family may have more than is typical, in ohms."""
    return max(LEAST_OHM, K * _typical(case, "rol_ohm", "sd"))


def _gain(case: Case, lines: _Lines) -> Iterator[Suspicion]:
    """Most low sides, and two at least, whose current stays while their volts run away: not one output's failure."""
    count, limited = len(case.part.outputs), lines.limited
    if min(len(limited), len(lines.about_to_be)) < max(2.0, MOST * count):
        return
    kept = sorted(max(i for i, _ in lines.points[pin]) for pin in limited)
    near = in_amperes(kept[0]) if kept[-1] < 1.05 * kept[0] else f"{in_amperes(kept[0])} to {in_amperes(kept[-1])}"
    who = _of(limited, count)
    made = Suspicion(Failure.LOST_GAIN, None, f"the transistors that pull {who} low have lost their gain together")
    made.clue(1.5, f"{_of(lines.lost, count)} lose their low level", when=lines.lost)
    made.clue(1.0, f"{_of(lines.about_to_be, count)} lose their low level hardly beyond the rated current", when=not lines.lost)
    made.clue(3.0, f"the current of {who} stays near {near} while the volts run away")
    lifted, light = median(lines.lifts or [0.0]), hypot(LIFTED_V, K * _typical(case, "vol_light_v", "sd"))
    made.clue(1.5, "under the lightest load they are as low as they should be", when=lines.lifts and lifted < light)
    made.clue(-2.0, f"they are {in_volts(lifted)} higher than is typical under the lightest load", when=lifted >= light)
    made.clue(-1.5, f"the current of {count - len(limited)} goes on rising", when=len(limited) < count)
    made.clue(-2.0, "their high levels are lost too, as by too low a supply inside",
              when=2 * sum(1 for pin in limited if case.has(pin, "VOH", outcome=Outcome.BEYOND)) > len(limited))
    made.clue(-6.0, "the silicon is of another family", when=case.chip("wrong family"))
    other = case.record.families[0] if case.record.families else None
    unlike = other is not None and other.family != (case.part.family or PLAIN) and not case.chip("wrong family")
    made.clue(-2.5, "outputs of another family give way like that when they are sound", when=unlike)
    yield made


def _supply_bond(case: Case) -> Iterator[Suspicion]:
    """A resistance in the supply's bond lowers all high levels alike, by what the chip draws; low levels stay."""
    short = [f.value.value for p in case.part.outputs if (f := case.has(p.number, "VOH", outcome=Outcome.BEYOND)) and f.value]
    loaded = [p.number for p in case.part.outputs if case.points(p.number, False)]
    if not case.bipolar or len(short) < 2 or len(short) < len(loaded) or case.wrong or max(short) - min(short) > ALIKE_V / 2:
        return
    supply = case.part.of_role(Role.SUPPLY)[0].number
    made = Suspicion(Failure.SERIES, supply, f"there is a resistance in the way of {case.name(supply)}: a bond, or the metal")
    made.clue(2.0, f"all {len(short)} outputs miss their high level")
    made.clue(1.0, f"they are alike in it, at about {in_volts(median(short))}")
    made.clue(-6.0, "the silicon is of another family", when=case.chip("wrong family"))
    made.clue(-2.0, "low levels are beyond their limits too", when=any(case.has(n, "VOL", outcome=Outcome.BEYOND) for n in loaded))
    made.clue(-1.5, "its supply current is unlike the family's too", when=any(f.outcome is Outcome.ODD for f in case.record.supply))
    yield made


def _lifted(case: Case) -> Iterator[Suspicion]:
    """Lifted so far that no output comes low any more: every answer that should be low is at the same volts above."""
    wrong: dict[int, list[float]] = {}
    for m in (m for x in case.record.logic if x.load == "open" for m in x.misses if m.expected == "L"):
        wrong.setdefault(m.pin, []).append(m.volts)
    levels = [median(some) for pin, some in wrong.items() if not drives_nothing(case, pin)]
    held = [p for p in case.part.inputs if case.has(p.number, "input", outcome=Outcome.BEYOND)]
    if len(levels) < 2 or len(levels) < MOSTLY * len(case.part.outputs) or max(levels) - min(levels) > ALIKE_V:
        return
    ground = case.part.ground.number
    yield (
        Suspicion(Failure.SERIES, ground, f"there is a resistance in the way of {case.name(ground)}: a bond, or the metal")
        .clue(4.0, f"all outputs are at about {in_volts(median(levels))} where they should be low")
        .clue(1.5, "they are all alike in it")
        .clue(3.0, "most of its inputs do not follow when they are driven low", when=2 * len(held) >= len(case.part.inputs))
    )


def drives_nothing(case: Case, pin: int) -> bool:
    """True if the output follows any load, or never sinks what a load brings."""
    low = case.shape(pin, True)
    return any("drives nothing" in f.sentence for f in case.found.get(pin, ())) or low is not None and never_sinks(low)
