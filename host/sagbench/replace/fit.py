# SPDX-License-Identifier: MIT
"""Whether a part can stand in for another in its place: findings with their arithmetic, and a verdict.

Where the place is known the balance of each line decides.  Where it is not, the neighbours are taken for the original's
family and kin: what sinks, gives, burdens and reads as the original did or better fits, what does less gets a note.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from math import log2
from typing import NamedTuple

from sagbench.parts.amounts import amperes
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import FamilyLimits, Limit, Part, Pin, Role
from sagbench.replace import known
from sagbench.replace.alike import Match
from sagbench.replace.connect import MEMORY, MOST, Balance, Load, PullUp, balances, pull_up, volts
from sagbench.replace.differ import Difference
from sagbench.replace.place import Place

# Kind of a difference -> its weight, and what a table says; that of output stages depends on what hangs there.
_DIFFERENT = {"logic": ("bad", "does otherwise"), "timing": ("bad", "other timing"), "schmitt": ("note", "no Schmitt trigger"),
              "analog": ("note", "lacks a pin"), "better": ("ok", "")}
_SYMBOLS = {"sinks": "IOL", "gives": "IOH"}
STANDS = "volts it stands while off"
_SLOWER, _STEEPER = 1.5, 1.9             # from here a speed class counts as another
_HUNGRIER, _MORE_CURRENT = 1.25, 5e-3    # supply current that is worth a word: both


class Verdict(StrEnum):
    """Of a part in a place, the best first."""

    FITS = "fits"
    NOTE = "fits, see note"
    NOT = "does not fit"


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at: "ok", "note" or "bad"; pins by the original's names, empty for the whole part."""

    weight: str
    short: str                           # for a table: "sinks too little"; empty if it is "ok"
    text: str
    pins: tuple[str, ...] = ()
    balance: Balance | None = None
    recalled: tuple[str, ...] = ()       # its figures that are from memory: "IOL", "IIL of 74S20"


@dataclass(frozen=True)
class Fit:
    """A part judged in the place of another."""

    original: Part
    part: Part
    match: Match | None                  # None: pins cannot be put beside each other
    differences: tuple[Difference, ...]
    findings: tuple[Finding, ...]

    @cached_property
    def verdict(self) -> Verdict:
        weights = {finding.weight for finding in self.findings}
        return Verdict.NOT if "bad" in weights else Verdict.NOTE if "note" in weights else Verdict.FITS

    @property
    def wiring(self) -> str:
        """How it comes into the socket: "same pins", "adapter", "other circuit"."""
        return "other circuit" if self.match is None else "same pins" if self.match.same_places else "adapter"

    def reasons(self) -> list[str]:
        """The short reasons of its verdict, each once, the weightiest first."""
        found = [f.short for weight in ("bad", "note") for f in self.findings if f.weight == weight]
        return list(dict.fromkeys(found))

    @cached_property
    def recalled(self) -> tuple[str, ...]:
        """The figures from memory that its verdict rests on: those of its lines, and of what is a note or worse."""
        every = (name for f in self.findings if f.pins or f.weight != "ok" for name in f.recalled)
        return tuple(dict.fromkeys(name.removesuffix(f" of {self.part.name}") for name in every))

    @property
    def rank(self) -> tuple[int, int, int, int, float, str]:
        """For sorting: verdict, wiring, differences, notes, then how far it is in speed and supply current."""
        notes = sum(finding.weight != "ok" for finding in self.findings)
        ways = ("same pins", "adapter", "other circuit")
        return list(Verdict).index(self.verdict), ways.index(self.wiring), len(self.differences), notes, self.remoteness, self.part.name

    @property
    def remoteness(self) -> float:
        """Octaves in gate delay, slower ones twice, and half of those in supply current."""
        octaves = log2(_speed(self.part).gate / _speed(self.original).gate)
        far = max(2 * octaves, -octaves)
        currents = supply_current(self.part), supply_current(self.original)
        return far + (abs(log2(currents[0] / currents[1])) / 2 if currents[0] and currents[1] else 1.0)


def _speed(part: Part) -> known.Speed:
    return known.speed(part.family or PLAIN)


def supply_current(part: Part) -> float | None:
    """The largest limit of its static supply currents, in amperes; None if none is known."""
    return None if (limit := _supply_limit(part)) is None else limit.value


def _supply_limit(part: Part) -> Limit | None:
    return max((state.limit for state in part.supply_states if state.limit), key=lambda limit: limit.value, default=None)


def judge(original: Part, part: Part, match: Match | None, differences: Sequence[Difference], place: Place) -> Fit:
    """Look at everything.  `match` puts the original's logic (one) beside the part's (other)."""
    findings: list[Finding] = []
    for difference in differences:
        if difference.kind in _DIFFERENT:
            findings.append(Finding(*_DIFFERENT[difference.kind], difference.text))
    if match is None:
        findings.append(Finding("bad", "other circuit",
                                "its pins are not those of the original under other numbers: the circuit around it changes"))
    else:
        findings += _outputs(original, part, match, place) + _inputs(original, part, match, place)
        if not match.same_places:
            findings.append(Finding("note", "needs an adapter", "other pins: wire it as listed"))
    findings += _whole(original, part)
    return Fit(original, part, match, tuple(differences), tuple(_joined(findings)))


def itself(original: Part, match: Match, place: Place) -> Fit:
    """The original in its own place: how much room it has there."""
    return Fit(original, original, match, (), tuple(_joined(_outputs(original, original, match, place)
                                                            + _inputs(original, original, match, place))))


def _joined(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Pins of which the same is to be said, together."""
    grouped: dict[Finding, list[str]] = {}
    for finding in findings:
        grouped.setdefault(replace(finding, pins=()), []).extend(finding.pins)
    for finding, pins in grouped.items():
        yield replace(finding, pins=tuple(dict.fromkeys(pins)))


def _pairs(original: Part, part: Part, match: Match, outputs: bool) -> Iterator[tuple[Pin, Pin]]:
    """Each pin of the original with the one that takes its place."""
    for pin in original.outputs if outputs else original.inputs:
        yield pin, part.pin(match.other.numbers[match.pairing[pin.name]])


def _settled(loads: Sequence[Load] | None, part: Part, match: Match) -> list[Load] | None:
    """The loads of a line, those that are pins of the original replaced by the part's."""
    def settled(load: Load) -> Load:
        if not load.own or load.pin is None:
            return load
        return replace(load, part=part, pin=part.pin(match.other.numbers[match.pairing[load.pin.name]]))

    return None if loads is None else [settled(load) for load in loads]


def _outputs(original: Part, part: Part, match: Match, place: Place) -> list[Finding]:
    found: list[Finding] = []
    for mine, yours in _pairs(original, part, match, outputs=True):
        loads = _settled(place.drives.get(mine.number), part, match)
        limits, old = part.limits[yours.number], original.limits[mine.number]
        if loads is None:
            made = list(_unknown_loads(original, old, mine.role, part, limits, yours.role))
        else:
            made = list(_known_loads(part, limits, yours.role, loads, mine.role))
        found += [replace(finding, pins=(mine.name,)) for finding in made]
    return found


def _known_loads(part: Part, limits: FamilyLimits, role: Role, loads: Sequence[Load], was: Role) -> Iterator[Finding]:
    """An output against what hangs on it."""
    made = balances(role, limits, loads)
    for balance in made:
        yield _weighed(balance)
    if len(made) < 2 and any(load.limits for load in loads):
        yield _lacks_pull_up(pull_up(limits, loads))
    highest = max((load.volts or 0.0 for load in loads if load.up), default=0.0)
    stands = known.off_volts(part.function) if role is Role.OPEN_COLLECTOR else MOST
    if highest > stands:
        yield Finding("bad", "too little voltage", f"pulled up to {highest:g} V, its output stands {stands:g} V [memory]", recalled=(STANDS,))
    if was is Role.OPEN_COLLECTOR and role is not was:
        shared = any(load.pin and load.pin.role.is_output for load in loads)
        yield (Finding("bad", "fights the others", "drives both ways against the others on its line") if shared else
               Finding("note", "drives both ways", "no open collector: only where nothing else drives the line"))


def _weighed(balance: Balance) -> Finding:
    verb = "sinks" if balance.state == "low" else "gives"
    if not balance.strong:
        return Finding("bad", f"{verb} too little", "too much for it", balance=balance, recalled=balance.recalled)
    if not balance.level:
        return Finding("bad", f"{balance.state} level", f"its {balance.state} level is not read as one", balance=balance, recalled=balance.recalled)
    return Finding("ok", "", "", balance=balance, recalled=balance.recalled)


def _lacks_pull_up(bounds: PullUp) -> Finding:
    if bounds.least > bounds.most or bounds.most <= 0:
        return Finding("bad", "no high level",
                       "an open collector, and no pull-up is both weak enough to be sunk and strong enough for the high level")
    return Finding("note", "needs a pull-up", f"an open collector: give it a pull-up of {_between(bounds)}")


def _between(bounds: PullUp) -> str:
    usual = f", {ohms(bounds.usual)} say" if bounds.usual else ""
    return f"{ohms(bounds.least)} to {ohms(bounds.most)}{usual}"


def ohms(value: float) -> str:
    """With two figures: 390 ohm, 2.2 kohm."""
    scale, prefix = (1.0, "") if value < 999.5 else (1e3, "k") if value < 999.5e3 else (1e6, "M")
    return f"{value / scale:.3g} {prefix}ohm"


def _unknown_loads(original: Part, old: FamilyLimits, was: Role, part: Part, limits: FamilyLimits, role: Role) -> Iterator[Finding]:
    """An output against what the original could do, its neighbours taken for the original's family."""
    if was is Role.OPEN_COLLECTOR and role is not was:
        yield Finding("bad", "drives both ways", "no open collector: not where outputs share a line or are pulled up to another voltage; "
                      "tell with --drives what hangs there")
    if role is Role.OPEN_COLLECTOR and was is not role:
        yield Finding("bad", "needs a pull-up", "an open collector makes no high level by itself; tell with --drives what hangs there")
    if was is role is Role.OPEN_COLLECTOR and (stands := known.off_volts(part.function)) < (stood := known.off_volts(original.function)):
        yield Finding("note", "stands less voltage",
                      f"its output stands {stands:g} V while it is off, that of the {original.name} {stood:g} V [memory]", recalled=(STANDS,))
    able = [("sinks", limits.vol[-1], old.vol[-1])]
    if limits.voh and old.voh:
        able.append(("gives", limits.voh[-1], old.voh[-1]))
    figures = [(Figure(verb, abs(new.amperes), new.limit.source), Figure("", abs(was.amperes), was.limit.source))
               for verb, new, was in able]
    yield from _compared(original, figures, "less", "tell with --drives what hangs there")
    if limits.voh and old.voh:
        best = max(volts(point) for point in limits.voh)
        if best < old.vih.value:
            yield Finding("bad", "high level", recalled=_recalled(("VOH", limits.voh[0].limit), (f"VIH of {original.name}", old.vih)), text=f"its high level, {best:g} V at least [{limits.voh[0].limit.source}], is under the "
                          f"{old.vih.value:g} V [{old.vih.source}] that inputs like those of the {original.name} need")
    if (lowest := min(point.limit.value for point in limits.vol)) > old.vil.value:
        yield Finding("bad", "low level", recalled=_recalled(("VOL", limits.vol[0].limit), (f"VIL of {original.name}", old.vil)), text=f"its low level, {lowest:g} V at most [{limits.vol[0].limit.source}], is over the "
                      f"{old.vil.value:g} V [{old.vil.source}] that inputs like those of the {original.name} need")


def _recalled(*figures: tuple[str, Limit]) -> tuple[str, ...]:
    """The names of those that are from memory."""
    return tuple(name for name, limit in figures if limit.source == MEMORY)


class Figure(NamedTuple):
    """A current with its name and source."""

    name: str
    amperes: float
    source: str


def _compared(original: Part, figures: Sequence[tuple[Figure, Figure]], worse: str, advice: str) -> Iterator[Finding]:
    """Figures of a pin beside those of the original: a note if one is worse ("less" or "more"), and all of them in words."""
    sign = -1 if worse == "less" else 1
    bad = [new for new, old in figures if sign * (new.amperes - old.amperes) > 1e-9 * old.amperes]
    text = "; ".join(f"{new.name} {amperes(new.amperes)} [{new.source}], the {original.name} {amperes(old.amperes)} [{old.source}]"
                     for new, old in figures)
    short = "heavier inputs" if worse == "more" else f"{bad[0].name} less" if bad else ""
    told = [(_SYMBOLS.get(new.name, new.name), new, old) for new, old in figures]
    recalled = (*(name for name, new, _ in told if new.source == MEMORY), *(f"{name} of {original.name}" for name, _, old in told if old.source == MEMORY))
    yield Finding("note", short, f"{text}: {advice}", recalled=recalled) if bad else Finding("ok", "", text, recalled=recalled)


def _inputs(original: Part, part: Part, match: Match, place: Place) -> list[Finding]:
    found: list[Finding] = []
    for mine, yours in _pairs(original, part, match, outputs=False):
        line = _settled(place.driven_by.get(mine.number), part, match)
        if line is not None:
            made = list(_known_driver(line, Load(part.name, 1, part, yours)))
        elif mine.role is Role.BIDIRECTIONAL:
            made = []                                # its burden while it is off is in the balance of its line
        else:
            made = list(_unknown_driver(original, mine, part, yours))
        found += [replace(finding, pins=(mine.name,)) for finding in made]
    return found


def _known_driver(line: Sequence[Load], new: Load) -> Iterator[Finding]:
    """The driver of an input against the input and all else that it drives."""
    if not line:
        return                                       # counted with the pin whose line it shares
    driver, *others = line
    if not driver.limits or not driver.pin or not driver.part:
        return
    loads = [new, *others]
    made = balances(driver.pin.role, driver.limits, loads)
    for balance in made:
        text, mended = f"driven by {driver.part.name}", ""
        recalled = tuple(name if " of " in name else f"{name} of {driver.part.name}" for name in balance.recalled)
        if balance.strong and balance.level:
            yield Finding("ok", "", text, balance=balance, recalled=recalled)
            continue
        if balance.strong and balance.state == "high":
            bounds = pull_up(driver.limits, loads)
            mended = f"; a pull-up of {_between(bounds)}, there would mend it" if bounds.least < bounds.most else ""
        short, wrong = (f"reads no {balance.state}", f"whose {balance.state} level it does not read") if balance.strong else (
            "overloads its driver", "which is too much for that")
        yield Finding("bad", short, f"{text}, {wrong}{mended}", balance=balance, recalled=recalled)
    if len(made) < 2:
        yield Finding("bad", "no pull-up",
                      f'driven by {driver.part.name}, an open collector: name its pull-up, as in "{driver.text}, 2k2 up"')


def _unknown_driver(original: Part, mine: Pin, part: Part, yours: Pin) -> Iterator[Finding]:
    """An input against that of the original, its driver taken for the original's family."""
    old, new = original.limits[mine.number], part.limits[yours.number]
    low, high = ((Figure("IIL", abs(limits.iil.value) * pin.low_unit_loads, limits.iil.source),
                  Figure("IIH", limits.iih.value * pin.high_unit_loads, limits.iih.source)) for limits, pin in ((new, yours), (old, mine)))
    yield from _compared(original, list(zip(low, high, strict=True)), "more", "tell with --driven-by what drives it")
    made = _usual(original)
    if made is None:
        return
    if made[1] is not None and made[1] < new.vih.value:
        yield Finding("bad", "reads no high", recalled=_recalled(("VIH", new.vih)), text=f"needs {new.vih.value:g} V [{new.vih.source}] for a high level; outputs like those of the "
                      f"{original.name} give {made[1]:g} V at least: tell with --driven-by what drives it")
    if made[0] > new.vil.value:
        yield Finding("bad", "reads no low", recalled=_recalled(("VIL", new.vil)), text=f"needs {new.vil.value:g} V [{new.vil.source}] for a low level; outputs like those of the "
                      f"{original.name} give {made[0]:g} V at most: tell with --driven-by what drives it")


def _usual(original: Part) -> tuple[float, float | None] | None:
    """The worst levels of outputs like the original's own: VOL, and VOH if they make one."""
    if not original.outputs:
        return None
    every = [original.limits[pin.number] for pin in original.outputs]
    high = [volts(limits.voh[-1]) for limits in every if limits.voh]
    return max(limits.vol[-1].limit.value for limits in every), min(high) if high else None


def _whole(original: Part, part: Part) -> Iterator[Finding]:
    """What is not of a single line: speed, edges, supply current, grade, open inputs."""
    new, old = _speed(part), _speed(original)
    if new.gate > old.gate * _SLOWER:
        yield Finding("note", "slower", f"slower: a gate takes {new.gate * 1e9:g} ns typically [{new.gate_source}], in the family of the "
                      f"{original.name} {old.gate * 1e9:g} ns [{old.gate_source}]", recalled=("gate delay",) if MEMORY in (new.gate_source, old.gate_source) else ())
    if new.edge * _STEEPER < old.edge:
        yield Finding("note", "steeper edges", f"edges of {new.edge * 1e9:g} ns [{new.edge_source}] for {old.edge * 1e9:g} ns "
                      f"[{old.edge_source}]: a capacitor of 100 nF at its supply pins; long wires may ring, and "
                      "pulses pass that were swallowed", recalled=("edges",) if MEMORY in (new.edge_source, old.edge_source) else ())
    yield from _supply(original, part)
    if original.grade == 54 and part.grade == 74:
        yield Finding("note", "0 to 70 C only", "made for 0 to 70 C only, not for -55 to 125 C")
    technology = [next(iter(p.limits.values())).technology for p in (original, part) if p.limits]
    mine, yours = known.supply(original.family or PLAIN), known.supply(part.family or PLAIN)
    if yours[0] > mine[0] or yours[1] < mine[1]:
        yield Finding("note", "other supply", f"for a supply of {yours[0]:g} to {yours[1]:g} V; the {original.name} may have had "
                      f"{mine[0]:g} to {mine[1]:g} V [memory]", recalled=("supply",))
    if technology == ["ttl", "cmos"]:
        yield Finding("note", "no open inputs",
                      "CMOS: tie inputs that were left open, which were high with TTL; discharge yourself before you touch it")


def _supply(original: Part, part: Part) -> Iterator[Finding]:
    new, old = _supply_limit(part), _supply_limit(original)
    if new is None or old is None:
        yield Finding("ok", "", f"supply current: no limit known of the {part.name if new is None else original.name}")
        return
    more = new.value > old.value * _HUNGRIER and new.value > old.value + _MORE_CURRENT
    yield Finding("note" if more else "ok", "takes more current" if more else "",
                  f"supply current: {amperes(new.value)} at most [{new.source}], the {original.name} {amperes(old.value)} [{old.source}]",
                  recalled=_recalled(("ICC", new), (f"ICC of {original.name}", old)))
