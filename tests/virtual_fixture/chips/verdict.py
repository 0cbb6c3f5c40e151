"""The truth about a chip: which data-book limits it breaks, where its logic is wrong.

    found = verdict({"part": "74LS00", "fault": [...]}, seed=7)
    found.sound, found.violations, found.faults

Every figure comes from the ideal bench (truth.py), every limit from databook.toml.  By
default each figure is taken at the supply the book tests it at (outputs at the lowest,
currents at the highest, thresholds at 5 V or what the family table says); with `vcc` all
are taken at that supply, which is what a fixture with that supply could know.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from . import databook, families, timing
from .behaviour import OFF, PARTS
from .chip import Chip, load
from .databook import InputLimits, Limits, OutputLimits
from .description import read
from .truth import IdealBench
from .walk import OPENING, Reference, counts, course, one_at_a_time

LOOKS = 2                         # figures of one output in one state, at different steps
PULL_UP_A = 1e-4                  # what an open collector must hold low to count as low
SLOWEST_S = 1e-6                  # no book allows a gate of these families a delay like that at 5 V
NOT_CARRIED_V = 99.0              # the pin cannot carry the test current


@dataclass(frozen=True)
class Violation:
    """One limit broken.  value and limit in volts or amperes; value None: not possible at all.

    quantity: VOL VOH IOS IOZ ICEX IIL IIH II VIK VT+ VT- hysteresis ICC, tPD (of an
    input alone: what its bond wire delays), tW (of a monostable, by its
    timing pin, in seconds), or "logic",
    "function" (another part), "seating".
    """

    pin: str
    quantity: str
    value: float | None
    limit: float | None
    condition: str

    def __str__(self) -> str:
        what = f"{self.pin} {self.quantity}"
        if self.limit is None:
            return f"{what}: {self.condition}"
        value = "none" if self.value is None else f"{self.value:.4g}"
        return f"{what} {value}, limit {self.limit:.4g} ({self.condition})"


@dataclass(frozen=True)
class FaultEffect:
    """A fault of the description and what it does: "logic", "limit" or "none"."""

    kind: str
    pin: str
    effect: str
    quantities: tuple[str, ...] = ()


@dataclass(frozen=True)
class Figure:
    """A true figure and its limit.  sense: +1 it must not exceed it, -1 not fall below."""

    value: float
    limit: float
    sense: int
    scale: float                  # what counts as the limit's size: VCC - VOH for an output high

    @property
    def reserve(self) -> float:
        """Distance from the limit as a share of its size; negative beyond it."""
        return self.sense * (self.limit - self.value) / max(self.scale, 1e-12)


@dataclass
class Verdict:
    """What is true of a chip.

    figures: the figure nearest to (or farthest beyond) its limit by (pin, quantity); "IOS
    most", "VT+ least" and the like are the other end of a span.
    """

    part: str
    marking: str
    family: str
    seed: int
    violations: list[Violation] = field(default_factory=list)
    faults: list[FaultEffect] = field(default_factory=list)
    figures: dict[tuple[str, str], Figure] = field(default_factory=dict)

    @property
    def sound(self) -> bool:
        """Within every limit, and its logic right."""
        return not self.violations

    @property
    def logic_wrong(self) -> bool:
        return any(v.quantity in ("logic", "function", "seating") for v in self.violations)

    @property
    def beyond(self) -> set[tuple[str, str]]:
        return {(v.pin, v.quantity) for v in self.violations}

    def margin(self) -> float:
        """Least distance to a limit as a share of it; negative beyond."""
        return min((figure.reserve for figure in self.figures.values()), default=1.0)


class _Examiner:
    """Takes all figures of one chip against the limits of its marking."""

    def __init__(self, chip: Chip, limits: Limits, result: Verdict, vcc: float | None) -> None:
        self.chip, self.limits, self.result, self.vcc = chip, limits, result, vcc
        nominal = vcc if vcc is not None else sum(limits.vcc) / 2
        self.low = vcc if vcc is not None else limits.vcc[0]
        self.high = vcc if vcc is not None else limits.vcc[1]
        self.bench = IdealBench(chip, nominal)
        any_input = next(iter(limits.inputs.values()))
        self.logic_v = any_input.level("low", nominal), any_input.level("high", nominal)
        self.looked: dict[tuple[str, int], int] = {}
        self.wrong: set[str] = set()
        self.compared: set[str] = set()          # those of them that a step of a walk has shown
        self.examined: set[str] = set()

    # ------------------------------------------------------------------ book-keeping
    def most(self, pin: str, quantity: str, value: float, limit: float, condition: str) -> None:
        """A figure that must not exceed its limit."""
        self._note(pin, quantity, value, limit, condition, 1)

    def least(self, pin: str, quantity: str, value: float, limit: float, condition: str) -> None:
        self._note(pin, quantity, value, limit, condition, -1)

    def _note(self, pin: str, quantity: str, value: float, limit: float, condition: str,
              sense: int) -> None:
        """Keep the worst figure of its kind, and a violation if that is beyond its limit."""
        kept = self.result.figures.get((pin, quantity))
        scale = self.low - limit if quantity == "VOH" else abs(limit)
        figure = Figure(value, limit, sense, scale)
        if kept is not None and figure.reserve >= kept.reserve:
            return
        self.result.figures[pin, quantity] = figure
        if sense * (value - limit) > 0:
            self.result.violations[:] = [v for v in self.result.violations
                                         if (v.pin, v.quantity) != (pin, quantity)]
            seen = None if abs(value) == NOT_CARRIED_V else value
            self.result.violations.append(Violation(pin, quantity, seen, limit, condition))

    # ------------------------------------------------------------------ the walk
    def walk(self) -> None:
        """Through the part's states in step with a sound copy of its logic."""
        reference = Reference(PARTS[self.limits.part], self.chip.seed)
        both = [n for n in self.limits.inputs if n in self.limits.outputs]
        for k, levels in enumerate(course(self.limits.part)):
            self.bench.set(**levels)
            expected = reference.step(levels)
            self._compare(expected)
            self.inputs(both)
            if k < OPENING or k % 4 == 0:
                self._supply(expected)
            for name, level in expected.items():
                if self.looked.get((name, level), 0) < LOOKS:
                    self.looked[name, level] = self.looked.get((name, level), 0) + 1
                    self._output(name, level)
        for name in expected:
            self._unreached(name)

    def _unreached(self, name: str) -> None:
        """States that the course does not reach (the last stages of a long counter): put the
        output's transistors there by hand.  What it does by itself is then not judged."""
        index = self.bench.circuit.output_index.get(self.bench.part.pin(name))
        if index is None or self.chip.library.chip_output_state(self.chip.pointer, index) > 1:
            return
        was = self.chip.library.chip_output_state(self.chip.pointer, index)
        for level in (0, 1):
            if (name, level) not in self.looked:
                self.chip.library.chip_force_state(self.chip.pointer, index, level)
                self._output(name, level)
        self.chip.library.chip_force_state(self.chip.pointer, index, was)

    def _compare(self, expected: dict[str, int]) -> None:
        """Logic at the open outputs: low below VIL, high above VIH of its own family."""
        v = self.bench.open_volts
        low, high = self.logic_v
        for name, level in expected.items():
            if name in self.wrong:
                continue
            volts = v[self.bench.position[name]]
            open_high = level == 1 and self.limits.outputs[name].open_collector
            if open_high or level == OFF:
                wrong = self.bench.state(name) not in ("off", "high") if open_high else (
                    self.bench.state(name) in ("low", "high"))
            else:
                wrong = volts > low if level == 0 else volts < high
            if wrong:
                self.compared.add(name)
                self._wrong(name, level, volts)

    def logic(self, steps: Iterable[dict[str, int]]) -> set[str]:
        """Outputs that answer wrongly in a walk."""
        reference = Reference(PARTS[self.limits.part], self.chip.seed)
        for levels in steps:
            self.bench.set(**levels)
            self._compare(reference.step(levels))
        return self.compared

    def _wrong(self, name: str, level: int, volts: float) -> None:
        self.wrong.add(name)
        said = {0: "low", 1: "high", OFF: "off"}[level]
        self.result.violations.append(Violation(name, "logic", volts, None, f"should be {said}, is {volts:.2f} V"))

    def _supply(self, expected: dict[str, int]) -> None:
        icc = self.limits.icc
        lows, highs, offs = counts(expected)
        total = max(lows + highs + offs, 1)
        worst = icc.get("worst")
        if worst is None:
            return
        if {"high", "low"} <= set(icc):
            off = icc.get("off", worst)
            worst = (lows * icc["low"] + highs * icc["high"] + offs * off) / total
        self.most("VCC", "ICC", self.bench.icc(self.high), worst,
                  f"{lows} low, {highs} high, {offs} off")

    # ------------------------------------------------------------------ outputs
    def _output(self, name: str, level: int) -> None:
        limits = self.limits.outputs[name]
        if level == 0:
            for amperes, volts in limits.vol:
                self.most(name, "VOL", self._carried(name, amperes, 1), volts,
                          f"{amperes * 1e3:g} mA")
            pulled = self._carried(name, PULL_UP_A, 1)
            if limits.open_collector and pulled > self.logic_v[0] and name not in self.wrong:
                self._wrong(name, level, pulled)
        elif level == OFF:
            self._off(name, limits)
        elif limits.open_collector:
            self.most(name, "ICEX", self.bench.pin_current(name, self.high, self.high), limits.icex, "high")
        else:
            self._high(name, limits)

    def _high(self, name: str, limits: OutputLimits) -> None:
        for amperes, volts, below in limits.voh:
            self.least(name, "VOH", self._carried(name, -amperes, -1),
                       self.low - volts if below else volts, f"{amperes * 1e3:g} mA")
        if limits.ios:
            # The least is guaranteed at the highest supply only.
            where, book = f"at {limits.ios_at:g} V", self.limits.vcc[1]
            least = self.bench.short_current(name, limits.ios_at, book)
            self.least(name, "IOS", least, limits.ios[0], where)
            most = self.bench.short_current(name, limits.ios_at, self.high)
            self.most(name, "IOS most", most, limits.ios[1], where)

    def _carried(self, name: str, amperes: float, sign: int) -> float:
        try:
            return self.bench.output_volts(name, amperes, self.low)
        except ValueError:
            return sign * NOT_CARRIED_V

    def _off(self, name: str, limits: OutputLimits) -> None:
        if name in self.limits.inputs:
            return                # an input as well: IIH and IIL count
        for volts in (0.4, 2.4):
            amperes = self.bench.pin_current(name, volts, self.high)
            self.most(name, "IOZ", abs(amperes), limits.ioz, f"off, {volts} V")

    # ------------------------------------------------------------------ inputs
    def inputs(self, names: Iterable[str] | None = None) -> None:
        """Each input once, as soon as the chip does not drive it: bidirectional pins in one of
        their states off."""
        held = self.bench.driven()
        for name in self.limits.inputs if names is None else names:
            if name in held and name not in self.examined:
                self.examined.add(name)
                self._currents(name, self.limits.inputs[name])
                self._threshold(name, self.limits.inputs[name])
                self._lag(name)

    def _lag(self, name: str) -> None:
        lag = self.chip.circuit.lags.get(self.chip.pin(name), 0.0) if self.chip.circuit else 0.0
        self.most(name, "tPD", lag, SLOWEST_S, "an input behind its bond wire")

    def _currents(self, name: str, limits: InputLimits) -> None:
        bench = self.bench
        if limits.iil:
            amperes = bench.pin_current(name, limits.iil[0], self.high, others=self.high)
            self.most(name, "IIL", -amperes, limits.iil[1], f"{limits.iil[0]} V, others high")
        if limits.iih:
            for others, level in ((0.0, "low"), (self.high, "high")):
                amperes = bench.pin_current(name, limits.iih[0], self.high, others=others)
                self.most(name, "IIH", amperes, limits.iih[1],
                          f"{limits.iih[0]} V, others {level}")
        if limits.ii is not None:
            for volts in (0.0, self.high):
                amperes = bench.pin_current(name, volts, self.high)
                self.most(name, "II", abs(amperes), limits.ii, f"{volts:g} V")
        if limits.vik:
            try:
                volts = -bench.clamp_volts(name, limits.vik[0], self.low)
            except ValueError:
                volts = NOT_CARRIED_V
            self.most(name, "VIK", volts, limits.vik[1], f"{limits.vik[0] * 1e3:g} mA")

    def _threshold(self, name: str, limits: InputLimits) -> None:
        forced = any(f["kind"] == "stuck" and f["pin"] == self.chip.pin(name)
                     for f in self.chip.description.faults)
        if forced or not self.chip.circuit or name not in self.chip.circuit.thresholds:
            return                # its logic is wrong, or it has another name in another part
        supply = self.low if limits.vil[1] else self.bench.vcc
        with self.bench.at(supply) as bench:
            up, down = bench.switching_volts(name, "up"), bench.switching_volts(name, "down")
        if up is None or down is None:
            self.result.violations.append(
                Violation(name, "VT+", None, limits.level("high", supply), "never switches"))
            return
        least, most = limits.span("up", supply)
        self.least(name, "VT+ least", up, least, f"{supply:g} V")
        self.most(name, "VT+", up, most, f"{supply:g} V")
        least, most = limits.span("down", supply)
        self.least(name, "VT-", down, least, f"{supply:g} V")
        self.most(name, "VT- most", down, most, f"{supply:g} V")
        if limits.gap:
            self.least(name, "hysteresis", up - down, *databook.at_supply(limits.gap, supply), f"{supply:g} V")


    # ------------------------------------------------------------------ pulses
    def pulses(self) -> None:
        """A monostable's widths at the book's resistor and capacitor."""
        span = timing.book_span(self.limits.part, self.limits.family)
        for cell in self.chip.circuit.cells if self.chip.circuit and span else []:
            width = cell.width_s(timing.BENCH_OHM, timing.BENCH_F, self.bench.vcc)
            self.least(cell.pin, "tW least", width, span[0], "10 k, 1000 pF")
            self.most(cell.pin, "tW", width, span[1], "10 k, 1000 pF")


def _misplaced(chip: Chip) -> Iterator[Violation]:
    """Faults that leave nothing to measure pin by pin."""
    for fault in chip.description.faults:
        if fault["kind"] in ("reversed", "shifted"):
            yield Violation("all", "seating", None, None, fault["kind"])


def examine(description: dict[str, Any], seed: int, vcc: float | None = None) -> Verdict:
    """Violations and figures of a chip, without looking at single faults."""
    chip = load(description, seed)
    assert chip.description.part is not None, "an empty socket has no verdict"
    marking = families.split_name(chip.description.marking)
    own = families.split_name(chip.description.part)
    assert marking is not None and own is not None
    result = Verdict(chip.description.part, chip.description.marking, marking[0], seed)
    result.violations += _misplaced(chip)
    if result.violations:
        return result
    if marking[1] != own[1]:
        result.violations.append(Violation("all", "function", None, None,
                                           f"a {own[1]} marked {marking[1]}"))
        return result
    examiner = _Examiner(chip, databook.limits(marking[1], marking[0]), result, vcc)
    examiner.walk()
    if examiner.compared:          # a race between inputs that change together is no fault of the chip
        slowly = _Examiner(load(description, seed), examiner.limits, replace(result, violations=[]), vcc)
        raced = examiner.compared - slowly.logic(one_at_a_time(course(slowly.limits.part)))
        result.violations[:] = [v for v in result.violations if v.quantity != "logic" or v.pin not in raced]
    examiner.inputs()
    examiner.pulses()
    return result


def _without(description: dict[str, Any], index: int) -> dict[str, Any]:
    faults = [f for k, f in enumerate(description["fault"]) if k != index]
    return {**description, "fault": faults}


def verdict(description: dict[str, Any], seed: int, vcc: float | None = None) -> Verdict:
    """Violated limits of a chip, and what each of its faults does.

    description: a chip file's dict; seed: of the specimen (the same draw the fixture's
    chip gets); vcc: None for the book's conditions, else the supply in volts.  A fault has
    "no effect" if the same specimen without it breaks the same limits.  KeyError if the
    data book does not have the marking's part in its family (databook.known).
    """
    result = examine(description, seed, vcc)
    read_back = read(description)
    for k, fault in enumerate(read_back.faults):
        pin = ""
        if "pin" in fault and read_back.behaviour is not None:
            pin = read_back.behaviour.pin_names()[fault["pin"] - 1]
        healed = examine(_without(description, k), seed, vcc)
        caused = result.beyond - healed.beyond
        logic = {q for _, q in caused} & {"logic", "function", "seating"}
        effect = "logic" if logic else "limit" if caused else "none"
        result.faults.append(FaultEffect(fault["kind"], pin, effect,
                                         tuple(sorted({q for _, q in caused}))))
    return result
