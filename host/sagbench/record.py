"""The record of one sweep: what was measured, against which limit, and what follows from it.

`judge` fills it, `report` shows it, `--json` writes it as it stands.  Plain data:
no device, no part library, no arithmetic but the views below.
Units: volts, amperes, ohms, seconds.  Every Quantity carries U at k = 2.
"""
from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


@dataclass(frozen=True)
class Contribution:
    """One component of a value's uncertainty: a resistor, the reference, the converter's noise ..."""

    name: str                            # component of the measurement model: "vref", "strong_drive[6]", "inl"
    u: float                             # signed standard uncertainty from it, in the value's unit (k = 1)


@dataclass(frozen=True)
class Quantity:
    """A measured value with its expanded uncertainty (k = 2)."""

    value: float
    u: float                             # expanded, k = 2, same unit
    unit: str                            # "V", "A", "ohm", "s"
    budget: tuple[Contribution, ...] = field(default_factory=tuple)  # largest first; squares add up to (u / 2)^2

    @classmethod
    def whose(cls, value: float, u: float, unit: str, budget: Callable[[], tuple[Contribution, ...]]) -> Quantity:
        """One whose budget is worked out when somebody asks for it first; few of a sweep's are ever asked for."""
        made = cls.__new__(cls)
        made.__dict__.update(value=value, u=u, unit=unit, _later=budget)
        return made

    def __getattr__(self, name: str) -> tuple[Contribution, ...]:
        if name != "budget" or "_later" not in self.__dict__:
            raise AttributeError(f"a quantity has no {name}")
        budget: tuple[Contribution, ...] = self.__dict__.pop("_later")()
        self.__dict__["budget"] = budget
        return budget

    def __reduce__(self) -> tuple[type[Quantity], tuple[float, float, str, tuple[Contribution, ...]]]:
        """Copied and kept with its budget worked out: what it is worked out from stays with the sweep."""
        return Quantity, (self.value, self.u, self.unit, self.budget)


@dataclass(frozen=True)
class Measured:
    """One figure of one pin (or of the chip, pin 0) before anything is judged."""

    name: str                            # "VOL", "VOH", "VT+", "VT-", "IIL", "IIH", "II clamp", "VIK", "IOS", "IOZH", "IOZL", "ROL", "ROH", "ICC"
    pin: int
    value: Quantity
    at: Quantity | None = None           # current or voltage it holds for
    state: str = ""                      # "outputs low", "watched at pin 3 (1Y)"
    how: str = ""                        # "measured there", "interpolated", "extrapolated"
    method: str = ""                     # "MIL-STD-883 3009", and how the fixture departs from it


class Outcome(StrEnum):
    """What one comparison with a limit gave."""

    WITHIN = "within"                    # within the limit, surely
    BEYOND = "beyond"                    # beyond it, surely
    UNSURE = "cannot tell"               # the limit lies inside the uncertainty
    ODD = "out of character"             # within, but not like its family
    NOT_MEASURED = "not measured"        # never a pass


NOT_SEATED = "not seated"  # begins `partial` of a chip that was put in wrongly: nothing is said of the chip itself


class Verdict(StrEnum):
    """What is said of the whole chip."""

    SOUND = "sound"
    TIRED = "about to go"                # everything within limits, something out of character
    FAILED = "not sound"
    UNSURE = "cannot tell"
    INCOMPLETE = "not finished"          # interrupted, or not seated: no verdict


@dataclass(frozen=True)
class Finding:
    """One comparison: a measured quantity, its limit, and a plain sentence."""

    quantity: str                        # "VOL", "VOH", "ICC", "IIL", "logic", "contact", ...
    outcome: Outcome
    sentence: str                        # "pin 8 (3Y) sinks 8 mA at 0.71 V; the limit is 0.50 V"
    pin: int | None = None
    value: Quantity | None = None
    limit: float | None = None
    limit_kind: str = "max"
    margin: float | None = None          # positive: inside the limit; unit of value
    at: Quantity | None = None           # the current (or voltage) it was found at
    state: str = ""                      # "outputs low"
    typical: float | None = None
    source: str = ""                     # where the limit is from
    weight: float = 0.0                  # how much it matters: sorts the reasons
    rated_at: float | None = None        # the data book's current for the limit, amperes; `at` may differ a little
    out_of_reach: bool = False           # not measured, for this fixture can measure it of no specimen: no gap of this sweep


class Contact(StrEnum):
    """What the contact check found at a pin."""

    CONNECTED = "connected"
    OPEN = "open"
    SHORTED = "shorted"
    NOT_EXPECTED = "not connected"       # NC by its data sheet: nothing to find
    NOT_MEASURED = "not measured"


@dataclass(frozen=True)
class PinContact:
    """The contact check of one pin."""

    pin: int
    contact: Contact
    shorted_to: tuple[str, ...] = ()     # "pin 3 (1Y)", "GND", "VCC"
    sentence: str = ""
    ohm: float | None = None             # about, of a short; None: not known


@dataclass(frozen=True)
class LoadReading:
    """One output at one load point."""

    point: str                           # name of the load point: "strong"
    direction: str                       # "sink" (output low, load up) or "source"
    volts: Quantity                      # at the pin, against the chip's own GND pin
    amperes: Quantity                    # positive into the pin
    sag: float                           # volts away from the unloaded level, >= 0 means worse


@dataclass(frozen=True)
class PinRecord:
    """All that is known of one pin."""

    pin: int
    name: str
    role: str
    position: int                        # in the socket
    low: Quantity | None = None          # unloaded
    high: Quantity | None = None
    loads: tuple[LoadReading, ...] = ()
    low_ohm: Quantity | None = None      # output resistance, low
    high_ohm: Quantity | None = None
    findings: tuple[Finding, ...] = ()
    outcome: Outcome = Outcome.NOT_MEASURED
    sentence: str = ""                   # the verdict on this pin and its reason
    measured: tuple[Measured, ...] = ()  # all figures, judged or not


@dataclass(frozen=True)
class LogicMiss:
    """One wrong answer of the logic test."""

    step: int                            # index in the part's sequence
    pin: int
    expected: str                        # "L", "H", "Z"
    volts: float
    load: str                            # load point: "open" ...
    inputs: Mapping[int, bool] = field(default_factory=dict)


@dataclass(frozen=True)
class LogicRecord:
    """The logic test at one load."""

    load: str
    steps: int
    checks: int
    misses: tuple[LogicMiss, ...] = ()


@dataclass(frozen=True)
class FamilyGuess:
    """How well one family's silicon explains the electrical figures."""

    family: str
    probability: float                   # over the families considered, sums to 1
    evidence: tuple[str, ...]            # plain sentences: what speaks for it and what against


@dataclass(frozen=True)
class Diagnosis:
    """A likely failure that explains the pattern of findings."""

    kind: str                            # "open bond wire", "sink transistor has lost gain" ...
    pin: int | None
    probability: float                   # over the diagnoses considered
    sentence: str
    speaks_for: tuple[str, ...] = ()
    speaks_against: tuple[str, ...] = ()


@dataclass(frozen=True)
class DecisionRule:
    """How a figure is held against a limit."""

    name: str                            # "guard band U"
    guard: float                         # guard band in units of U: 1.0 by default
    text: str                            # the rule in one plain sentence


@dataclass(frozen=True)
class FixtureRecord:
    """With what it was measured."""

    name: str
    serial: int
    wiring_id: int
    firmware: str
    api_level: int
    port: str
    calibration: str                     # "none: data-book tolerances assumed"


@dataclass(frozen=True)
class Timing:
    """By the device's own clock."""

    passes: int
    conversions: int
    pass_s: float                        # sum over passes
    total_s: float                       # from first contact to discharge, host's waiting included


@dataclass(frozen=True)
class SweepRecord:
    """One chip, one sweep."""

    part: str                            # "74LS04"
    title: str
    marking: str                         # as typed by the user
    pin_count: int
    started: str                         # ISO 8601, UTC
    sagbench: str                        # version
    fixture: FixtureRecord
    supply_volts: Quantity | None        # at the chip's own pins
    contacts: tuple[PinContact, ...]
    supply: tuple[Finding, ...]          # ICC, one a state
    logic: tuple[LogicRecord, ...]       # unloaded first
    pins: tuple[PinRecord, ...]
    verdict: Verdict
    reasons: tuple[Finding, ...]         # in order of weight
    advice: str                          # one plain sentence: use it, do not use it, why
    not_measured: tuple[str, ...]
    notes: tuple[str, ...]
    timing: Timing | None
    partial: str = ""                    # why it is incomplete: "interrupted by the user" ...
    families: tuple[FamilyGuess, ...] = ()   # likeliest first; empty if there was too little to go by
    diagnoses: tuple[Diagnosis, ...] = ()    # likeliest first; empty for a sound chip
    rule: DecisionRule | None = None
    undecided: tuple[str, ...] = ()          # what was measured and is not decided: too near a limit or too fine, or none is known
    measured: tuple[Measured, ...] = ()      # figures of the whole chip (pin 0): noise margins, worst supply current
