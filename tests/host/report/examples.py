# SPDX-License-Identifier: MIT
"""Sweep records written by hand, for tests of what shows them.

Nothing here was measured.  Limits are those of the data books as the project's
family tables have them (74: VOL 0.4 V at 16 mA, VOH 2.4 V at -0.4 mA; LS: 0.5 V
at 8 mA and 0.4 V at 4 mA, 2.7 V at -0.4 mA; ICC maxima from memory: 7400 8 and
22 mA, LS04 2.4 and 6.6 mA); every figure beside them is invented.
"""
from __future__ import annotations

from dataclasses import replace

from sagbench.record import (
    Contact, Contribution, DecisionRule, Diagnosis, FamilyGuess, Finding, FixtureRecord, LoadReading, LogicMiss,
    LogicRecord, Measured, Outcome, PinContact, PinRecord, Quantity, SweepRecord, Timing, Verdict)

FIXTURE = FixtureRecord("bench24", 12, 0x1A2B3C4D, "0.1", 1, "/dev/ttyUSB0", "none: data-book tolerances assumed")
TIMING = Timing(passes=9, conversions=5210, pass_s=1.12, total_s=1.61)
RULE = DecisionRule("guard band U", 1.0, "A figure counts as within its limit if it is inside by its uncertainty U "
                    "(k = 2) or more, as beyond it if it is outside by U or more, and as undecided in between.")
SINKING = (("weak", 0.00056), ("medium", 0.0080), ("strong", 0.0158), ("both", 0.0237))
SOURCING = (("weak", -0.00041), ("medium", -0.0058), ("strong", -0.0113), ("both", -0.0170))


def volts(value: float, u: float) -> Quantity:
    return Quantity(value, u, "V")


def amperes(value: float, u: float) -> Quantity:
    return Quantity(value, u, "A")


def output(number: int, name: str, rated: tuple[tuple[float, float], ...], source_limit: float, *,
           level: float = 0.12, ohm: float = 14.0, knee: float = 0.0, high: float = 4.1, high_ohm: float = 92.0,
           source: str = "DM7400") -> PinRecord:
    """An invented output: a level, a resistance, and from 10 mA on a `knee` in ohm more."""
    def low_at(current: float) -> float:
        return level + current * ohm + max(0.0, current - 0.010) * knee

    def high_at(current: float) -> float:
        return high - 0.55 + current * high_ohm
    loads = [LoadReading(point, "sink", volts(low_at(i), 0.006 + 0.01 * low_at(i)), amperes(i, 0.02 * i),
                         low_at(i) - level) for point, i in SINKING]
    loads += [LoadReading(point, "source", volts(high_at(i), 0.017), amperes(i, 0.02 * abs(i)),
                          high - high_at(i)) for point, i in SOURCING]
    findings = []
    for current, limit in rated:
        value = volts(low_at(current), 0.006 + 0.01 * low_at(current))
        margin = limit - value.value
        within = Outcome.WITHIN if margin > value.u else Outcome.BEYOND if -margin > value.u else Outcome.UNSURE
        can = {Outcome.WITHIN: "sinks", Outcome.BEYOND: "sinks only at", Outcome.UNSURE: "sinks at about"}[within]
        findings.append(Finding(
            "VOL", within, f"pin {number} ({name}) {can} {value.value:.2f} V at {1000 * current:g} mA; "
            f"the limit is {limit:.2f} V", number, value, limit, "max", margin, amperes(current, 0.0),
            typical=0.2, source=source, weight={Outcome.BEYOND: 8.0, Outcome.UNSURE: 4.0}.get(within, 0.0)))
    value = volts(high_at(-0.0004), 0.017)
    findings.append(Finding("VOH", Outcome.WITHIN, f"pin {number} ({name}) holds {value.value:.2f} V at 0.4 mA",
                            number, value, source_limit, "min", value.value - source_limit, amperes(-0.0004, 0.0),
                            typical=3.4, source=source))
    low, high_found = findings[0], findings[-1]
    assert low.value and high_found.value
    parts = (Contribution("strong_drive[6]", 0.8 * low.value.u / 2), Contribution("vref", -0.6 * low.value.u / 2))
    measured = (
        Measured("VOL", number, replace(low.value, budget=parts), low.at, "outputs low", "interpolated", "MIL-STD-883 3007"),
        Measured("VOH", number, high_found.value, high_found.at, "outputs high", "interpolated", "MIL-STD-883 3006"),
        Measured("IOS", number, amperes(-0.0266, 0.0019), volts(0.0, 0.0), "outputs high", "extrapolated", "MIL-STD-883 3011"))
    worst = max(findings, key=lambda finding: finding.weight)
    outcome = worst.outcome if worst.weight else Outcome.WITHIN
    return PinRecord(number, name, "output", number, volts(level, 0.004), volts(high, 0.018), tuple(loads),
                     Quantity(ohm + knee / 2, 0.9, "ohm"), Quantity(high_ohm, 3.1, "ohm"), tuple(findings),
                     outcome, worst.sentence, measured)


def quiet(number: int, name: str, role: str = "input", iil: float = 0.0) -> PinRecord:
    """A pin with nothing to measure but its contact, or an input with its current at 0.4 V and its threshold."""
    measured = () if not iil else (
        Measured("IIL", number, amperes(iil, 0.000008), volts(0.4, 0.0), "", "interpolated", "MIL-STD-883 3009"),
        Measured("VT+", number, volts(1.41, 0.02), None, "watched at pin 8 (3Y)", "measured there", "MIL-STD-883 3013"))
    return PinRecord(number, name, role, number, measured=measured)


def connected(pins: tuple[PinRecord, ...]) -> tuple[PinContact, ...]:
    return tuple(PinContact(pin.pin, Contact.CONNECTED) for pin in pins)


def supply(state: str, value: float, limit: float, typical: float, outcome: Outcome, sentence: str) -> Finding:
    return Finding("ICC", outcome, sentence, None, amperes(value, 0.00052), limit, "max", limit - value, None, state,
                   typical, "memory", 9.0 if outcome is Outcome.BEYOND else 0.0)


def sound_inverter() -> SweepRecord:
    """A 74LS04 with nothing wrong."""
    ls = ((0.004, 0.4), (0.008, 0.5))

    def out(number: int, name: str, ohm: float) -> PinRecord:
        return output(number, name, ls, 2.7, ohm=ohm, source="DM74LS00")
    pins = (quiet(1, "1A"), out(2, "1Y", 14.0), quiet(3, "2A"), out(4, "2Y", 14.4), quiet(5, "3A"),
            out(6, "3Y", 13.8), quiet(7, "GND", "ground"), out(8, "4Y", 14.2), quiet(9, "4A"), out(10, "5Y", 13.9),
            quiet(11, "5A"), out(12, "6Y", 14.6), quiet(13, "6A"), quiet(14, "VCC", "supply"))
    states = (supply("outputs high", 0.00144, 0.0024, 0.0012, Outcome.WITHIN, "1.4 mA with the outputs high"),
              supply("outputs low", 0.00391, 0.0066, 0.0036, Outcome.WITHIN, "3.9 mA with the outputs low"))
    return SweepRecord(
        "74LS04", "hex inverter", "SN74LS04N", 14, "2026-11-25T16:40:00Z", "0.1.0", FIXTURE, volts(5.012, 0.019),
        connected(pins), states, (LogicRecord("open", 4, 24), LogicRecord("medium", 4, 24),
                                  LogicRecord("strong", 4, 24)),
        pins, Verdict.SOUND, (), "Use it: every output holds its rated load, and the supply current is that of its "
        "family.", ("input current", "propagation delay"),
        ("Measured at the temperature of the room; the limits hold for 0 to 70 degrees.",), TIMING)


def weak_gate() -> SweepRecord:
    """A 7400 whose gate 3 passes its logic test and cannot sink its rated current."""
    std = ((0.016, 0.4),)
    pins = (quiet(1, "1A"), quiet(2, "1B"), output(3, "1Y", std, 2.4, ohm=9.2), quiet(4, "2A"), quiet(5, "2B"),
            output(6, "2Y", std, 2.4, ohm=9.5), quiet(7, "GND", "ground"),
            output(8, "3Y", std, 2.4, ohm=16.0, knee=49.0), quiet(9, "3A", iil=-0.00098), quiet(10, "3B", iil=-0.00101),
            output(11, "4Y", std, 2.4, ohm=17.2), quiet(12, "4A"), quiet(13, "4B"), quiet(14, "VCC", "supply"))
    bad = next(f for f in pins[7].findings if f.quantity == "VOL")
    unsure = next(f for f in pins[10].findings if f.quantity == "VOL")
    odd = Finding("logic", Outcome.ODD, "output 8 (3Y) answered with 0.79 V at 23.7 mA, within the threshold of TTL by "
                  "a hair", 8, weight=2.0)
    states = (supply("outputs high", 0.0041, 0.008, 0.004, Outcome.WITHIN, "4.1 mA with the outputs high"),
              supply("outputs low", 0.0124, 0.022, 0.012, Outcome.WITHIN, "12.4 mA with the outputs low"))
    miss = LogicMiss(3, 8, "L", 0.93, "both", {9: True, 10: True})
    return SweepRecord(
        "7400", "quad 2-input NAND gate", "DM7400N", 14, "2026-11-25T16:44:10Z", "0.1.0", FIXTURE,
        volts(4.978, 0.019), connected(pins), states,
        (LogicRecord("open", 4, 16), LogicRecord("medium", 4, 16), LogicRecord("strong", 4, 16),
         LogicRecord("both", 4, 16, (miss,))),
        pins, Verdict.FAILED, (bad, unsure, odd),
        "Do not use it: output 8 has a weak sink transistor; it works into one input and fails into ten.",
        ("input current of the other inputs",), (), TIMING,
        families=(FamilyGuess("74", 0.93, ("pin 9 (3A) delivers 0.98 mA at 0.4 V: typical of 74 is 1.0 mA",)),
                  FamilyGuess("H", 0.07, ("the supply current is less than half of what is typical of H",))),
        diagnoses=(Diagnosis("sink transistor has lost gain", 8, 0.88, "the transistor that pulls pin 8 (3Y) low has lost "
                             "its gain", ("it holds 0.28 V up to 10 mA and gives way above",),
                             ("nothing speaks against it",)),
                   Diagnosis("added series resistance", 8, 0.12, "there is a resistance in the way of pin 8 (3Y)",
                             ("its level rises with the current",), ("it does not rise in a straight line",))),
        rule=RULE)


def shorted_chip() -> SweepRecord:
    """A 74LS00 with an output shorted to ground; the rest was measured."""
    ls = ((0.004, 0.4), (0.008, 0.5))
    short = Finding("contact", Outcome.BEYOND, "output 6 (2Y) is shorted to GND inside the chip", 6, weight=10.0)
    heavy = supply("outputs high", 0.0337, 0.0016, 0.0008, Outcome.BEYOND,
                   "the supply current is 33.7 mA with the outputs high; the limit is 1.6 mA")
    dead = PinRecord(6, "2Y", "output", 6, volts(0.021, 0.004), None, (), None, None, (short,), Outcome.BEYOND,
                     short.sentence)
    pins = (quiet(1, "1A"), quiet(2, "1B"), output(3, "1Y", ls, 2.7), quiet(4, "2A"), quiet(5, "2B"), dead,
            quiet(7, "GND", "ground"), output(8, "3Y", ls, 2.7), quiet(9, "3A"), quiet(10, "3B"),
            output(11, "4Y", ls, 2.7), quiet(12, "4A"), quiet(13, "4B"), quiet(14, "VCC", "supply"))
    contacts = tuple(replace(c, contact=Contact.SHORTED, shorted_to=("GND",), sentence="pin 6 (2Y) is shorted to GND")
                     if c.pin == 6 else c for c in connected(pins))
    misses = tuple(LogicMiss(step, 6, "H", 0.02, "open", {4: step > 1, 5: step == 1}) for step in (0, 1, 2))
    return SweepRecord(
        "74LS00", "quad 2-input NAND gate", "74LS00", 14, "2026-11-25T16:50:00Z", "0.1.0", FIXTURE,
        volts(4.991, 0.019), contacts, (heavy,), (LogicRecord("open", 4, 16, misses),), pins, Verdict.FAILED,
        (short, heavy), "Do not use it: an output is shorted.",
        ("output 6 (2Y) under load: it is shorted", "input current"), (), TIMING)


def interrupted() -> SweepRecord:
    """The sound inverter, stopped by the user after the unloaded logic test."""
    whole = sound_inverter()
    pins = tuple(replace(pin, loads=(), findings=(), low_ohm=None, high_ohm=None, outcome=Outcome.NOT_MEASURED,
                         sentence="") for pin in whole.pins)
    return replace(whole, pins=pins, logic=whole.logic[:1], verdict=Verdict.INCOMPLETE,
                   advice="No verdict: the sweep was stopped before the loaded passes.",
                   not_measured=("outputs under load", "input current"), timing=None,
                   partial="interrupted by the user")


def not_seated() -> SweepRecord:
    """A chip that sits one row too low: nothing was powered."""
    whole = sound_inverter()
    names = {1: Contact.OPEN, 14: Contact.OPEN}
    contacts = tuple(PinContact(p.pin, names.get(p.pin, Contact.CONNECTED), (),
                                f"pin {p.pin} ({p.name}) touches nothing" if p.pin in names else "")
                     for p in whole.pins)
    reason = Finding("contact", Outcome.BEYOND, "the chip sits one row away from where pin 1 belongs", weight=10.0)
    pins = tuple(quiet(p.pin, p.name, p.role) for p in whole.pins)
    return replace(whole, supply_volts=None, contacts=contacts, supply=(), logic=(), pins=pins,
                   verdict=Verdict.INCOMPLETE, reasons=(reason,),
                   advice="Take it out and seat it with pin 1 at the lever; nothing was powered.",
                   not_measured=("everything but the contacts",), notes=(), timing=None,
                   partial="the chip is not seated as it must be")


def hostile() -> SweepRecord:
    """The sound inverter with names that try to be more than names."""
    whole = sound_inverter()
    nasty = "<script>alert(1)</script>[red]\x1b[31m\u202eLS04 & \"x\""
    pins = (replace(whole.pins[0], name="<b>1A"),) + whole.pins[1:]
    return replace(whole, marking=nasty, title="hex <i>inverter</i>", pins=pins, notes=(nasty,))


ALL = {make.__name__: make for make in (sound_inverter, weak_gate, shorted_chip, interrupted, not_seated, hostile)}
