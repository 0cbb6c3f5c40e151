"""A gate simulated in SPICE as an unknown chip for the socket, and what SPICE says of it.

    made = simulated("7400", beta=6)
    made.description              # a chip file's dict: every pin a table of SPICE's currents
    made.vol, made.voh, made.iil, made.ios, made.icc_low, made.icc_high, made.threshold

Nothing of the virtual chips' transistor models is left in such a chip: inputs and outputs
are tables, the supply current is SPICE's, the threshold is where SPICE's open output
crosses 1.5 V.  What stays are its substrate junctions and its clamps without power.
All four gates of the package are alike.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from ngspice_chips import GATES, PACKAGE, crossing
from spice import dc_sweep

POINTS = 60                       # of one table; a chip file takes 64
CROSSING_V = 1.5
LIGHT_A = 20e-6                   # below that a table of straight lines is no junction any more
RATED = {"7400": (16e-3, 0.4e-3), "74LS00": (8e-3, 0.4e-3), "74S00": (20e-3, 1e-3),
         "74HC00": (4e-3, 4e-3), "4011": (0.44e-3, 0.44e-3)}   # IOL, IOH of the books, A

Table = list[list[float]]


@dataclass(frozen=True)
class Simulated:
    """A chip for the socket, and SPICE's own figures of it at the same supply: V, A.

    vol, voh: at RATED; None if the output cannot carry it.  voh_light: at LIGHT_A.  iil: out
    of the pin at 0.4 V.
    """

    part: str
    description: dict[str, Any]
    vcc: float
    vol: float | None
    voh: float | None
    voh_light: float
    iil: float
    ios: float
    icc_low: float
    icc_high: float
    threshold: float


def simulated(part: str, vcc: float = 5.0, beta: int = 40, series_ohm: float = 0.0) -> Simulated:
    """One of GATES with that gain of its output transistor and a resistance in each output's bond.

    RuntimeError with ngspice's words if it fails.
    """
    low, high = _output(part, vcc, beta, vcc, series_ohm), _output(part, vcc, beta, 0.0, series_ohm)
    inputs, threshold = _input(part, vcc, beta)
    icc_low, icc_high = _supply(part, vcc, beta)
    at_low = _at(low, RATED[part][0])
    at_high = _at(high, -RATED[part][1])
    description: dict[str, Any] = {
        "part": part, "spread": 0,
        "parameters": {"threshold_v": round(threshold, 4), "hysteresis_v": 0.002},
        # What the inputs carry is in their tables: one for each gate, all high or all low.
        "supply_ma": [max(0.0, 1e3 * (icc_low + 4 * _current(inputs, vcc, vcc))),
                      max(0.0, 1e3 * (icc_high + 4 * _current(inputs, 0.0, vcc)))],
        "curve": []}
    for k in "1234":
        description["curve"] += [
            {"pin": f"{k}Y", "state": "low", "points": _few(low)},
            {"pin": f"{k}Y", "state": "high", "to": "VCC", "points": _few([[v - vcc, i] for v, i in high])},
            {"pin": f"{k}A", "shared": [f"{k}B"], "state": "input", "to": "VCC",
             "points": _few([[v - vcc, i] for v, i in inputs])}]
    return Simulated(part, description, vcc, at_low, at_high, _at(high, -LIGHT_A) or 0.0,
                     -_current(inputs, 0.4, vcc), -_interpolated(high, 0.0), icc_low, icc_high, threshold)


@cache
def _output(part: str, vcc: float, beta: int, input_v: float, series_ohm: float) -> Table:
    """[volts at the pin, amperes into it], rising, with the input at input_v."""
    rows = dc_sweep(f"X1 a b y vcc 0 {GATES[part]} bfo={beta}\nRS p y {max(series_ohm, 1e-6)}\nVA a 0 {input_v}\n"
                    f"VB b 0 {vcc}\nVC vcc 0 {vcc}\nVY p 0 0", "VY", -0.3, vcc + 0.3, 0.005, ["i(VY)"])
    return _rising([[r[0], -r[1]] for r in rows])


@cache
def _input(part: str, vcc: float, beta: int) -> tuple[Table, float]:
    """The same of an input, its partner high, the output open; and the threshold."""
    rows = dc_sweep(f"X1 a b y vcc 0 {GATES[part]} bfo={beta}\nVA a 0 0\nVB b 0 {vcc}\nVC vcc 0 {vcc}\nRY y 0 100meg",
                    "VA", -1.2, vcc + 0.3, 0.005, ["i(VA)", "v(y)"])
    return _rising([[r[0], -r[1]] for r in rows]), crossing(rows, lambda r: r[2] - CROSSING_V)[0]


@cache
def _supply(part: str, vcc: float, beta: int) -> tuple[float, float]:
    """Package current with all inputs high, all low."""
    found = []
    for level in (vcc, 0.0):
        ties = "".join(f"V{n}{k} {n}{k} 0 {level}\n" for n in "ab" for k in range(1, 5))
        rows = dc_sweep(PACKAGE.format(f"{GATES[part]} bfo={beta}") + ties + f"VG vss 0 0\nVC vcc 0 {vcc}",
                        "VC", vcc - 0.1, vcc + 0.1, 0.1, ["i(VC)"])
        found.append(-rows[1][1])
    return found[0], found[1]


def _rising(rows: Table) -> Table:
    """Currents of a numeric solution may fall by its tolerance; a table must not."""
    most = float("-inf")
    for row in rows:
        row[1] = most = max(most, row[1])
    return rows


def _few(rows: Table, count: int = POINTS) -> Table:
    """As many of the points as a table may have: always the one most is lost without."""
    kept = {0, len(rows) - 1}
    while len(kept) < count:
        order = sorted(kept)
        worst, place = 0.0, -1
        for a, b in zip(order, order[1:], strict=False):
            slope = (rows[b][1] - rows[a][1]) / (rows[b][0] - rows[a][0])
            for k in range(a + 1, b):
                # An error counts by what it is of its own current.
                off = abs(rows[a][1] + slope * (rows[k][0] - rows[a][0]) - rows[k][1])
                weight = off / (abs(rows[k][1]) + 2e-5)
                if weight > worst:
                    worst, place = weight, k
        if place < 0:
            break
        kept.add(place)
    return [rows[k] for k in sorted(kept)]


def _at(rows: Table, amperes: float) -> float | None:
    """Volts where a rising table carries a current; None outside of it."""
    for (v0, i0), (v1, i1) in zip(rows, rows[1:], strict=False):
        if i0 <= amperes <= i1 and i1 > i0:
            return v0 + (v1 - v0) * (amperes - i0) / (i1 - i0)
    return None


def _interpolated(rows: Table, volts: float) -> float:
    for (v0, i0), (v1, i1) in zip(rows, rows[1:], strict=False):
        if v0 <= volts <= v1:
            return i0 + (i1 - i0) * (volts - v0) / (v1 - v0)
    raise ValueError(f"{volts} V is outside of the table")


def _current(inputs: Table, volts: float, vcc: float) -> float:
    """Amperes into an input."""
    return _interpolated(inputs, min(max(volts, -1.2), vcc + 0.3))
