"""What a part is, once its file has been read: the language between the part library and the rooms that use it.

Everything is frozen and plain: pins, steps with what to set and what to expect,
and limits in volts and amperes with the source of each figure.
Voltages are in volts, currents in amperes, positive into the pin.
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

RESISTOR_IIH_A = 0.5e-3                  # no gate's input takes so much when high, by any data book
SWITCH_A = 0.2e-3                        # and no stage that drives is rated for so little: 0.44 mA for the weakest, 4000B
PULL_UP_LOADS = 2                        # unit loads: a shared pin that wants more to be low has a pull-up inside, if it is never off (74F243: 2.7)


class Role(StrEnum):
    """What a pin is for, in the words of the trade."""

    INPUT = "input"
    OUTPUT = "output"                    # totem-pole or CMOS, always driving
    OPEN_COLLECTOR = "open collector"    # sinks or is off (open drain too)
    TRI_STATE = "tri-state"              # drives or is off
    BIDIRECTIONAL = "bidirectional"      # an input in some states, a tri-state output in others
    SUPPLY = "supply"
    GROUND = "ground"
    ANALOG = "analog"                    # timing capacitor, expander, oscillator: left alone
    UNUSED = "not connected"

    @property
    def is_output(self) -> bool:
        """True if the pin can drive."""
        return self in (Role.OUTPUT, Role.OPEN_COLLECTOR, Role.TRI_STATE, Role.BIDIRECTIONAL)

    @property
    def is_input(self) -> bool:
        """True if the pin takes a level from outside."""
        return self in (Role.INPUT, Role.BIDIRECTIONAL)


@dataclass(frozen=True)
class Pin:
    """One pin of the package."""

    number: int
    name: str
    role: Role
    clock: str | None = None             # "rising", "falling"
    schmitt: bool = False
    low_unit_loads: float = 1.0          # of the family's IIL (inputs)
    high_unit_loads: float = 1.0         # of the family's IIH (inputs)
    grounded: bool = False               # may be tied to ground inside the chip (analog pins)


class Expect(StrEnum):
    """What an output is to do in a step."""

    LOW = "L"
    HIGH = "H"
    OFF = "Z"


@dataclass(frozen=True)
class Step:
    """One step of a test: levels to set (pins not named keep theirs; None releases a bidirectional pin), then what each output is to do.

    All changes of one step may reach the chip in any order, some microseconds
    apart: what must come first stands in an earlier step (data before clock).
    An empty `expect` means: do not look.  `pulses`, after the levels are set: a pin to its other
    level and back, so many times, before anybody looks (a long counter).
    """

    set: Mapping[int, bool | None]
    expect: Mapping[int, Expect] = field(default_factory=dict)
    note: str = ""
    pulses: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Limit:
    """A bound from a data book. Unit: volts or amperes, as the name of its place says."""

    value: float
    source: str                          # key of the source list, or "memory"
    kind: str = "max"                    # "max": value must be <= this; "min": >=
    also: tuple[Limit, ...] = ()         # what other sources give: as strict or stricter, so they do not judge


@dataclass(frozen=True)
class Rated:
    """An output level at a rated current: VOL at IOL, VOH at IOH."""

    quantity: str                        # "VOL" or "VOH"
    amperes: float                       # positive into the pin: IOL > 0, IOH < 0
    limit: Limit                         # volts
    typical: float | None = None         # volts
    relative_to_supply: bool = False     # limit.value is relative to the supply at the chip (VCC - 2 V: -2.0)
    also: tuple[Rated, ...] = ()         # what other sources give for it, level and current


@dataclass(frozen=True)
class FamilyLimits:
    """The DC limits that hold for one part type (family table with the part's own exceptions applied)."""

    family: str                          # "" (plain 74), "H", "L", "S", "LS", "AS", "ALS", "F", "HC", "HCT", "AC", "ACT", "4000B", ...
    grade: int                           # 54 or 74; 0 where it has no meaning
    technology: str                      # "ttl" or "cmos"
    vih: Limit
    vil: Limit
    iih: Limit                           # amperes, at one unit load; the source is that of the pin's own figure if it has one
    iil: Limit                           # amperes (negative), at one unit load, kind "min"; source as above
    vol: tuple[Rated, ...]
    voh: tuple[Rated, ...]               # empty for open-collector-only parts
    off_leakage: Limit | None = None     # IOZ or the open-collector IOH
    schmitt_v: Mapping[str, Any] | None = None   # thresholds of its Schmitt inputs, if not the family's: `up`, `down`, `between`, `source`

    @property
    def is_switch(self) -> bool:
        """True of an output that is an analog switch: a way through the part, no stage that drives."""
        return bool(self.vol) and max(rated.amperes for rated in self.vol) <= SWITCH_A

    def is_resistor(self, pin: Pin) -> bool:
        """True of an input that is a resistor to something inside (RINT of the 121, a line receiver's), without a junction of its own."""
        return self.iih.value * pin.high_unit_loads > RESISTOR_IIH_A


@dataclass(frozen=True)
class SupplyState:
    """A static state in which the supply current has a limit."""

    name: str                            # "outputs high", "outputs low", "outputs off", "quiescent"
    steps: tuple[Step, ...]              # from power-on to that state
    limit: Limit | None                  # amperes; None: data book gives none, report only
    typical: float | None = None         # amperes
    pins_low: tuple[int, ...] = ()       # inputs held low in it (their IIL flows through the supply)


@dataclass(frozen=True)
class PulseTest:
    """One way to trigger a monostable, and what the data book says of its pulse. Pins by number."""

    ready: Mapping[int, bool]            # levels from which the trigger fires it
    trigger: int                         # the input that then goes to its other level
    timing: int                          # where the timing resistor goes
    output: int                          # leaves its rest level for the pulse
    retriggers: bool | None              # a second trigger prolongs the pulse; None: not said
    ohm: tuple[float, float]             # timing resistors that the data book allows
    factor: tuple[float, float] | None   # width / (R C), C from the timing pin to ground; None: the capacitor lies between two pins
    source: str


@dataclass(frozen=True)
class Part:
    """One part type: a function in a family."""

    function: str                        # "04"; "4011" for the 4000 series
    family: str
    grade: int
    name: str                            # "74LS04"
    title: str                           # "hex inverter"
    pin_count: int
    pins: tuple[Pin, ...]                # ascending, all of them
    limits: Mapping[int, FamilyLimits]   # per output/input pin number (bus and ordinary pins may differ)
    sequence: tuple[Step, ...]           # the logic test, from power-on
    supply_states: tuple[SupplyState, ...]
    origin: str = "library"              # or the path of the user's own file
    notes: tuple[str, ...] = ()          # what to know, what is left alone
    pulses: tuple[PulseTest, ...] = ()   # of a monostable
    silicon: str = ""                    # family that it is made like, if not its own; "own": like none that has a table

    def pin(self, number: int) -> Pin:
        """The pin with this number."""
        return self.pins[number - 1]

    def is_switch(self, number: int) -> bool:
        """`FamilyLimits.is_switch` of a pin."""
        return number in self.limits and self.limits[number].is_switch

    def is_resistor(self, number: int) -> bool:
        """`FamilyLimits.is_resistor` of a pin."""
        return number in self.limits and self.limits[number].is_resistor(self.pin(number))

    def is_pulled_up(self, number: int) -> bool:
        """True for a bidirectional pin that a resistor inside pulls up (blanking of display drivers): it is never off, and heavy when low."""
        pin = self.pin(number)
        heavy = pin.role is Role.BIDIRECTIONAL and pin.low_unit_loads > PULL_UP_LOADS
        return heavy and all(step.expect.get(number) is not Expect.OFF for step in self.sequence)

    def named(self, step: Step) -> dict[str, bool | None]:
        """What a step sets, by pin name; a train of pulses is an entry "CLK^4096", as `behaviour` takes it."""
        plain: dict[str, bool | None] = {self.pin(n).name: level for n, level in step.set.items()}
        return plain | {f"{self.pin(n).name}^{count}": True for n, count in step.pulses.items()}

    def of_role(self, *roles: Role) -> tuple[Pin, ...]:
        """All pins of these roles."""
        return tuple(pin for pin in self.pins if pin.role in roles)

    @property
    def ground(self) -> Pin:
        """The ground that the chip's current comes back through: of several the last (VSS of a 4051, whose VEE is before it)."""
        return self.of_role(Role.GROUND)[-1]

    @property
    def outputs(self) -> tuple[Pin, ...]:
        """All pins that can drive."""
        return tuple(pin for pin in self.pins if pin.role.is_output)

    @property
    def inputs(self) -> tuple[Pin, ...]:
        """All pins that take a level, bidirectional ones among them."""
        return tuple(pin for pin in self.pins if pin.role.is_input)


@dataclass(frozen=True)
class Marking:
    """What is printed on a chip, understood: "SN74LS04N" -> maker's prefix, grade, family, function, package."""

    text: str
    prefix: str                          # "SN", "DM", "" ...
    grade: int                           # 54, 74; 0
    family: str
    function: str
    suffix: str                          # package and version letters
    package: str = ""                    # "plastic DIP", "ceramic DIP", "" if unknown
    note: str = ""                       # what else it could be: a date code
