"""Gates of SPICE's transistors put into the socket as unknown chips, swept, and each figure beside SPICE's own (ngspice 39, Debian).

    for name, (told, spice) in swept("7400", beta=6).figures.items(): ...

The way from the chip to the figure is the product's whole: fixture, firmware, plan, measurement.  SPICE simulates the gate again at
the supply that the sweep found at the chip.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
from dataclasses import dataclass

from ngspice_socket import simulated

from sagbench.device import Device
from sagbench.parts import load_part
from sagbench.record import Measured, Quantity, SweepRecord
from sagbench.sweep import sweep
from virtual_fixture.inproc import Fixture

CASES = (("7400", 40, 0.0), ("7400", 6, 0.0), ("7400", 40, 15.0))    # sound, gain lost, a resistance in each output's bond
INPUT, OUTPUT = 1, 3                                                 # pins of the gate that is looked at; all four are alike
SEED = 11


@dataclass(frozen=True)
class Swept:
    """A sweep's record, and by name of a figure what it told (its U at k = 2 with it) and what SPICE says: V, A, signs as told.

    Without VOL where SPICE's output cannot carry the rated current.
    """

    record: SweepRecord
    figures: dict[str, tuple[Quantity, float]]


def swept(part: str, beta: int = 40, series_ohm: float = 0.0) -> Swept:
    """One of ngspice_chips.GATES, swept. RuntimeError with ngspice's words if it fails."""
    with Fixture(seed=SEED) as fixture:
        fixture.insert(simulated(part, beta=beta, series_ohm=series_ohm).description)
        record = sweep(Device(fixture.line), load_part(part))
    told = {m.name: m for pin in record.pins if pin.pin in (INPUT, OUTPUT) for m in pin.measured}
    spice = simulated(part, vcc=_supply(told["VOH"]), beta=beta, series_ohm=series_ohm)
    by_state = {m.state: m.value for m in record.measured if m.name == "ICC"}
    figures = {"VOH": (told["VOH"].value, spice.voh), "IIL": (told["IIL"].value, -spice.iil), "IOS": (told["IOS"].value, -spice.ios),
               "VT+": (told["VT+"].value, spice.threshold), "ICC low": (by_state["outputs low"], spice.icc_low),
               "ICC high": (by_state["outputs high"], spice.icc_high)}
    if spice.vol is not None:
        figures["VOL"] = told["VOL"].value, spice.vol
    return Swept(record, figures)


def _supply(measured: Measured) -> float:
    """Volts between the chip's supply pins while that was measured, to 10 mV."""
    found = re.search(r"supply (\d\.\d+) V", measured.state)
    assert found, measured.state
    return round(float(found[1]), 2)
