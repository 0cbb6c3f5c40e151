"""Records of chips on paper: every pin as given by a few figures, for tests of what looks at whole chips.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

from host.report import examples
from sagbench.parts import Role
from sagbench.record import (
    Contact, Finding, LoadReading, LogicRecord, Measured, Outcome, PinContact, PinRecord, Quantity, Verdict,
)

SUPPLY_V = 5.0


def volts(value, u=0.004):
    return Quantity(value, u, "V")


def amperes(value, u=None):
    return Quantity(value, 0.01 * abs(value) if u is None else u, "A")


def sinking(*points):
    """Readings of a low output; points: (name, milliamperes, volts)."""
    return tuple(LoadReading(n, "sink", volts(v), amperes(ma / 1e3), v - points[0][2]) for n, ma, v in points)


def sourcing(*points):
    """Readings of a high output."""
    return tuple(LoadReading(n, "source", volts(v, 0.02), amperes(-ma / 1e3), points[0][2] - v) for n, ma, v in points)


def plus(points, ohm):
    """Points of a line, (name, milliamperes, volts), with so many ohms more in the way; less than none where the output sources."""
    return tuple((name, ma, v + ohm * ma * 1e-3) for name, ma, v in points)


def changed(record, pin, **changes):
    """The record with one pin changed."""
    return replace(record, pins=tuple(replace(p, **changes) if p.pin == pin else p for p in record.pins))


def hungry(record):
    """The record with too much supply current in every state."""
    return replace(record, supply=tuple(replace(f, outcome=Outcome.BEYOND) for f in record.supply))


def chip(part, *, iil, low, high, icc, vt=None, ios=None, supply=SUPPLY_V):
    """A record of this part with all pins alike.

    iil: amperes when low; low, high: load points (name, mA, V); icc: state -> amperes; vt: V; ios: A.
    """
    pins = []
    for pin in part.pins:
        made = PinRecord(pin.number, pin.name, pin.role.value, pin.number, outcome=Outcome.WITHIN)
        if pin.role is Role.INPUT:
            figures = [Measured("IIL", pin.number, amperes(iil * pin.low_unit_loads, 4e-6), volts(0.4))]
            figures += [] if vt is None else [Measured("VT+", pin.number, volts(vt, 0.02))]
            made = replace(made, measured=tuple(figures))
        elif pin.role.is_output:
            figures = () if ios is None else (Measured("IOS", pin.number, amperes(ios, 0.1 * abs(ios))),)
            logic = Finding("logic", Outcome.WITHIN, "answers rightly", pin.number)
            made = replace(made, loads=(*sinking(*low), *sourcing(*high)), findings=(logic,), measured=figures)
        pins.append(made)
    currents = tuple(
        Finding("ICC", Outcome.WITHIN, f"{icc[s.name]} A", value=amperes(icc[s.name], 1e-5 + 0.02 * icc[s.name]), state=s.name,
                limit=s.limit.value if s.limit else None, typical=s.typical)
        for s in part.supply_states if s.name in icc
    )
    return replace(
        examples.sound_inverter(), part=part.name, title=part.title, marking=part.name, pin_count=part.pin_count,
        supply_volts=volts(supply, 0.03), supply=currents, pins=tuple(pins), logic=(LogicRecord("open", 8, 30),),
        contacts=tuple(PinContact(p.pin, Contact.CONNECTED) for p in pins), verdict=Verdict.SOUND, reasons=())


# Quad NAND gates of transistor-level models in ngspice (textbook circuits, gain 40) under the fixture's loads at 5 V.
SPICE = {
    "7400": dict(iil=-0.958e-3, low=(("weak", 0.56, 0.047), ("medium", 8.3, 0.140), ("strong", 16.1, 0.219)),
                 high=(("weak", 0.43, 3.524), ("medium", 5.4, 3.162)), icc={"outputs high": 4.0e-3, "outputs low": 12.9e-3},
                 vt=1.413, ios=-28.3e-3),
    "74LS00": dict(iil=-0.211e-3, low=(("weak", 0.56, 0.317), ("medium", 7.9, 0.390), ("strong", 15.3, 0.447)),
                   high=(("weak", 0.43, 3.55), ("medium", 5.4, 3.2)), icc={"outputs high": 0.9e-3, "outputs low": 2.8e-3},
                   vt=1.063, ios=-32.1e-3),
    "74S00": dict(iil=-1.368e-3, low=(("weak", 0.56, 0.285), ("medium", 7.9, 0.314), ("strong", 15.4, 0.333)),
                  high=(("weak", 0.43, 3.6), ("medium", 5.4, 3.4)), icc={"outputs high": 10e-3, "outputs low": 20e-3},
                  vt=1.220, ios=-80.6e-3),
    "74HC00": dict(iil=0.0, low=(("weak", 0.56, 0.019), ("medium", 8.0, 0.261)), high=(("weak", 0.56, 4.98), ("medium", 8.0, 4.74)),
                   icc={}, vt=2.28),
}
