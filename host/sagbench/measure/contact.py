"""Figures of the contact check: forward drops in volts, and which pins are tied together.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping

from sagbench.plan.fixture import M_LINE, Fixture
from sagbench.plan.recipe import Readings

SHORT_DROP_V = 0.25  # less than the forward drop of any junction at half a milliampere (Schottky: 0.35 V and more)
JUNCTION_V = 1.0  # more is not one junction
NOTHING_V = 0.10  # so little at the far side of 8.2 kohm is no conduction: under 15 uA
TIED_V = 0.55  # a pulled-up pin below this hangs on one that is held low: see plan/contact.py


def drops(fixture: Fixture, readings: Readings, raised: int, rail: float) -> Mapping[int, float | None]:
    """Position -> volts lost between the raised position and it; None where nothing conducts.

    The pin's current through the weak load also flows through M of the raised position: taken off.
    Nominal resistances do; the classes are tenths of a volt apart.
    """
    m_ohm = fixture.line_ohm(M_LINE)
    mux = fixture.raw["mux"]["ron_ohm"]["typ"]
    weak = fixture.resistor("weak_load").typ + fixture.driver.typ + mux
    out: dict[int, float | None] = {}
    for reading in readings.labelled(f"from {raised}"):
        if reading.code is None or reading.mark.position == raised:
            continue
        at_k = reading.code / fixture.full_scale * rail
        amperes = at_k / weak
        at_pin = at_k + amperes * mux
        out[reading.mark.position] = None if at_k < NOTHING_V else rail - amperes * m_ohm - at_pin
    return out


def pulled_low(fixture: Fixture, readings: Readings, label: str, rail: float) -> set[int]:
    """Positions that stayed low under the weak load to 5 V in the readings of this label."""
    return {
        r.mark.position
        for r in readings.labelled(label)
        if r.code is not None and r.code / fixture.full_scale * rail < TIED_V
    }


def ohms_low(fixture: Fixture, readings: Readings, label: str, rail: float) -> dict[int, float]:
    """Position -> ohms between it and the position held low through M; readings as for `pulled_low`.

    Nominal resistances: good to some 60 ohm (the multiplexer channel), enough to tell a short from a leak.
    """
    mux = fixture.raw["mux"]["ron_ohm"]["typ"]
    weak = fixture.resistor("weak_load").typ + fixture.driver.typ + mux
    held = fixture.line_ohm(M_LINE)
    out = {}
    for r in readings.labelled(label):
        if r.code is not None:
            at_k = r.code / fixture.full_scale * rail
            out[r.mark.position] = max(0.0, at_k / ((rail - at_k) / weak) - mux - held)
    return out


def ohms_to_raised(fixture: Fixture, readings: Readings, raised: int, rail: float) -> dict[int, float]:
    """Position -> ohms between it and the raised one, where `drops` finds a short; nominal resistances."""
    weak = fixture.resistor("weak_load").typ + fixture.driver.typ + fixture.raw["mux"]["ron_ohm"]["typ"]
    codes = {r.mark.position: r.code for r in readings.labelled(f"from {raised}")}
    return {
        position: max(0.0, drop) / ((codes[position] or 0.0) / fixture.full_scale * rail / weak)
        for position, drop in drops(fixture, readings, raised, rail).items()
        if drop is not None and drop < SHORT_DROP_V
    }
