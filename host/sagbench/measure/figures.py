"""The DC parameter set of one chip: what a sweep has measured, as `record.Measured`.

Pure: the sweep's stages fill a `Figures`, `measured` makes the list.  METHODS.md says how each is taken.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from sagbench.measure.bend import OVERDRIVE_V
from sagbench.measure.inputs import Figure
from sagbench.measure.line import How, Line, Point, at_rated, slope_points
from sagbench.measure.methods import METHODS
from sagbench.measure.model import Model
from sagbench.measure.outputs import leaves_level, short_circuit
from sagbench.measure.uncertain import Uncertain, exact, standard, uncertain, value
from sagbench.parts.model import Part, Role
from sagbench.plan.loads import rated
from sagbench.record import Measured, Quantity

UNITS = {"T": "s", "V": "V", "N": "V", "I": "A", "R": "ohm"}  # by first letter of the name


DRIVE_SD = 0.4  # of what a channel loses of its drive as the supply goes down: overdrive, path and threshold's motion
LEAST_A = 1e-5  # between two points of a slope
VAGUE_V = 1.0  # U of a level that is none: a line led on past the knee of a weak output comes to 16 V with U 33 V


@dataclass
class Figures:
    """Numbers of one chip. Amperes positive into the pin, volts against the chip's ground pin; by pin number."""

    supply: Uncertain | None = None
    path: Uncertain | None = None  # ohms between rail and supply pin: what a sourcing output's current sees as well
    icc: dict[str, Figure] = field(default_factory=dict)  # by supply state
    lines: list[Line] = field(default_factory=list)
    beyond: dict[int, tuple[Point, ...]] = field(default_factory=dict)  # pull-ups beyond their rating
    low_in: dict[int, Figure] = field(default_factory=dict)
    high_in: dict[int, Figure] = field(default_factory=dict)
    clamp: dict[int, Figure] = field(default_factory=dict)
    off: dict[tuple[int, bool], Figure] = field(default_factory=dict)  # by pin and pulled high?
    thresholds: dict[tuple[int, bool], tuple[Figure, str]] = field(default_factory=dict)  # by pin and rising?; state
    widths: list[tuple[int, Figure]] = field(default_factory=list)  # of a monostable's pulses, by output pin; seconds


@dataclass(frozen=True)
class _Named:
    """A figure with its name, its pin (0: the chip) and the state it was found in."""

    name: str
    pin: int
    figure: Figure
    state: str = ""

    @property
    def size(self) -> float:
        """Best estimate."""
        return value(self.figure.number)

    def for_the_record(self) -> Measured:
        """With uncertainty and budget."""
        number = Model.quantity(self.figure.number, UNITS[self.name[0]])
        state = self.state or self.figure.state
        return Measured(self.name, self.pin, number, self.figure.at, state, self.figure.how, METHODS[self.name])


def measured(part: Part, f: Figures) -> list[Measured]:
    """Everything, in the order: chip, then pins ascending, then what follows from several."""
    found = list(_chip(f))
    for pin in part.pins:
        found += _input(f, pin.number)
        found += _output(part, f, pin.number)
        found += [_Named("TW", pin.number, width) for output, width in f.widths if output == pin.number]
    found += _margins(found)
    return [named.for_the_record() for named in found]


def _chip(f: Figures) -> Iterator[_Named]:
    for state, figure in f.icc.items():
        yield _Named("ICC", 0, figure, state)
    if len(f.icc) > 1:
        state, worst = max(f.icc.items(), key=lambda item: value(item[1].number))
        yield _Named("ICC", 0, worst, f"worst: {state}")


def _input(f: Figures, pin: int) -> Iterator[_Named]:
    for name, figures in (("IIL", f.low_in), ("IIH", f.high_in), ("VIK", f.clamp)):
        if pin in figures:
            yield _Named(name, pin, figures[pin])
    both = {}
    for name, rising in (("VT+", True), ("VT-", False)):
        if (pin, rising) in f.thresholds:
            both[rising], state = f.thresholds[pin, rising]
            yield _Named(name, pin, both[rising], state)
    if len(both) == 2:
        yield _Named("VH", pin, Figure(both[True].number - both[False].number, both[True].at, "measured there"))


def _output(part: Part, f: Figures, pin: int) -> Iterator[_Named]:
    limits = part.limits.get(pin)
    lines = {line.up: line for line in f.lines if line.pin == pin}
    if limits is None:
        return
    bipolar = limits.technology == "ttl"
    for rating in (*limits.vol, *limits.voh):
        line = lines.get(rating.quantity == "VOL")
        sources = rating.amperes < 0
        beyond = f.beyond.get(pin, ()) if sources else ()
        found = at_rated(line, abs(rating.amperes), knee=bipolar and sources, beyond=beyond) if line else None
        if found and 2 * standard(found.volts) <= VAGUE_V:
            amperes = found.amperes if rating.amperes > 0 else -found.amperes
            figure = Figure(found.volts, Model.quantity(amperes, "A"), found.how.value)
            yield _Named(rating.quantity, pin, figure, _rated_state(f, line, rating.amperes))
    for name, up in (("ROL", True), ("ROH", False)):
        if ends := _resistance_ends(f, pin, up, lines.get(up), rated(limits, up)):
            yield _resistance(f, name, pin, *ends, channel=not bipolar)
    for name, line, volts in (
        ("IOL at VIL", lines.get(True), limits.vil.value),
        ("IOH at VIH", lines.get(False), limits.vih.value),
    ):
        beyond = () if line is None or line.up else f.beyond.get(pin, ())
        if line and (reach := leaves_level(line, volts, beyond)):
            yield _Named(name, pin, reach)
    if bipolar and part.pin(pin).role is not Role.OPEN_COLLECTOR and (ios := short_circuit(_stiff(f, pin), _supply(lines.get(False)), part.family)):
        yield _Named("IOS", pin, ios, "output high, " + _supply_state(lines.get(False)))
    for name, high in (("IOZH", True), ("IOZL", False)):
        if (pin, high) in f.off:
            yield _Named(name, pin, f.off[pin, high], "output off")


FAR_ENOUGH_A = 0.2e-3  # a slope wants two currents that differ by so much


def _resistance_ends(f: Figures, pin: int, up: bool, line: Line | None, rating: float) -> tuple[Point, Point] | None:
    """Two points for a resistance: of the low level where the load pulls `up`, else of the high one.

    A follower's at its small rated current is that of its VBE; what tells its family is its collector resistor.
    """
    saturated = () if up else f.beyond.get(pin, ())[:2]
    if len(saturated) == 2 and value(saturated[1].amperes) - value(saturated[0].amperes) > FAR_ENOUGH_A:
        return saturated[0], saturated[1]
    return slope_points(line, rating) if line else None


def _resistance(f: Figures, name: str, pin: int, a: Point, b: Point, *, channel: bool) -> _Named:
    sign = 1 if name == "ROL" else -1
    ohms = (b.volts - a.volts) / (b.amperes - a.amperes) * sign
    if name == "ROH" and f.path is not None:
        ohms = ohms - f.path  # the supply at the chip goes down with the current,
        if channel:  # and with it the overdrive W: R (1 + path I / W) at a current I
            weaker = value(ohms) * value(f.path * (a.amperes + b.amperes)) / OVERDRIVE_V
            ohms = ohms - uncertain(weaker, DRIVE_SD * abs(weaker), "channel's drive")
    middle = Quantity(sign * (value(a.amperes) + value(b.amperes)) / 2, 0.0, "A")
    span = f"between {value(a.amperes) * 1e3:.4g} and {value(b.amperes) * 1e3:.4g} mA"
    return _Named(name, pin, Figure(ohms, middle, How.AT.value), span)


def _stiff(f: Figures, pin: int) -> tuple[Point, ...]:
    """Points of a pull-up as they would be if the chip's supply did not go down with the current."""
    path = exact(0.0) if f.path is None else f.path
    return tuple(replace(p, volts=p.volts + p.amperes * path) for p in f.beyond.get(pin, ()))


def _supply(line: Line | None) -> float | None:
    return None if line is None or line.supply is None else value(line.supply)


def _supply_state(line: Line | None, sag: float = 0.0) -> str:
    return "supply not read" if line is None or line.supply is None else f"supply {value(line.supply) - sag:.3f} V"


def _rated_state(f: Figures, line: Line | None, amperes: float) -> str:
    """The rating, and the supply at the chip under it."""
    sag = max(0.0, -amperes) * (value(f.path) if f.path is not None else 0.0)
    return f"rated at {abs(amperes) * 1e3:g} mA, {_supply_state(line, sag)}"


def _margins(figures: Sequence[_Named]) -> Iterator[_Named]:
    """Noise margins of the chip with its like: from its own worst levels and thresholds, as far as all were measured."""
    lows, highs = ([m for m in figures if m.name == n and m.figure.how != How.BEYOND.value] for n in ("VOL", "VOH"))
    thresholds = [m for m in figures if m.name in ("VT+", "VT-")]
    rising = [m for m in thresholds if m.name == "VT+"] or thresholds
    falling = [m for m in thresholds if m.name == "VT-"] or thresholds
    if lows and rising:
        yield _difference("NML", min(rising, key=lambda m: m.size), max(lows, key=lambda m: m.size))
    if highs and falling:
        yield _difference("NMH", min(highs, key=lambda m: m.size), max(falling, key=lambda m: m.size))


def _difference(name: str, high: _Named, low: _Named) -> _Named:
    difference = Figure(high.figure.number - low.figure.number, low.figure.at, "from two figures")
    return _Named(name, 0, difference, f"pin {high.pin} over pin {low.pin}")
