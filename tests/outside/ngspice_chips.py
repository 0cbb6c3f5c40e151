"""Virtual chips against transistor-level SPICE, at the fixture's own loads.

`python tests/outside/ngspice_chips.py` writes chip_deviation.csv; the test of the
same name holds the deviations to their tolerances and the file to being current.

The chips are typical (spread = 0, beta as in the deck).  Loads: series resistor plus
27 ohm of a port pin (driver_ohm typ) and, for the weak one, 70 ohm of a multiplexer.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
TABLE = HERE / "chip_deviation.csv"
sys.path[:0] = [str(HERE), str(HERE.parent)]

from spice import dc_sweep  # noqa: E402
from tiny_network import solve  # noqa: E402
from virtual_fixture.chips import Chip, load  # noqa: E402

DRIVER_OHM = 27
LOADS = {"weak": 8200 + DRIVER_OHM + 70, "medium": 560 + DRIVER_OHM, "strong": 270 + DRIVER_OHM,
         "both": 1 / (1 / (560 + DRIVER_OHM) + 1 / (270 + DRIVER_OHM))}
GATES = {"7400": "TTL00", "74L00": "L00", "74H00": "H00", "74LS00": "LS00", "74S00": "S00", "74HC00": "HC00", "4011": "CD11"}
BETAS = {"7400": (40, 15, 6), "74L00": (40, 15), "74H00": (40, 15), "74LS00": (40, 15, 6), "74S00": (40, 15, 6), "74HC00": (40,),
         "4011": (40,)}
UNPOWERED_AS_TTL = ("74L00", "74H00")   # the model's paths without power are the TTL's: compared there
PACKAGE = "".join(f"X{k} a{k} b{k} y{k} vcc vss {{0}}\n" for k in range(1, 5))


@dataclass(frozen=True)
class Row:
    """One comparison: SPICE and the virtual chip in the same unit."""

    part: str
    beta: int
    what: str
    unit: str
    spice: float
    chip: float

    @property
    def deviation(self) -> float:
        return self.chip - self.spice


def specimen(part: str, beta: int) -> Chip:
    parameters = {} if part in ("74HC00", "4011") else {"beta": beta}
    return load({"part": part, "spread": 0, "parameters": parameters}, 1)


def crossing(rows: list[tuple[float, ...]], function: Callable[[tuple[float, ...]], float]
              ) -> tuple[float, ...]:
    """The interpolated row where `function` changes sign."""
    values = [function(r) for r in rows]
    for k in range(1, len(rows)):
        if (values[k - 1] > 0) != (values[k] > 0):
            f = values[k - 1] / (values[k - 1] - values[k])
            return tuple(a + f * (b - a) for a, b in zip(rows[k - 1], rows[k], strict=True))
    raise RuntimeError("no crossing")


def output_rows(part: str, beta: int) -> Iterator[Row]:
    """Loaded output voltages, mV, low against 5 V and high against 0 V."""
    chip = specimen(part, beta)
    for state, input_v, source_v in (("low", 5.0, 5.0), ("high", 0.0, 0.0)):
        if beta != 40 and state == "high":
            continue
        sweep = dc_sweep(f"X1 a b y vcc 0 {GATES[part]} bfo={beta}\nVA a 0 {input_v}\nVB b 0 5\n"
                         "VC vcc 0 5\nVY y 0 0", "VY", -0.1, 5.0, 0.01, ["i(VY)"])
        for name, ohms in LOADS.items():
            if part == "4011" and name != "weak":
                continue
            volts, _ = crossing(sweep, lambda r, o=ohms, s=source_v: -r[1] - (s - r[0]) / o)
            yield Row(part, beta, f"{state} {name}", "mV", volts * 1e3,
                      chip.loaded_volts("1Y", state, ohms, source_v) * 1e3)


def input_rows(part: str) -> Iterator[Row]:
    """IIL at 0.4 V (uA), current at 2.7 V (uA), threshold (mV), clamp at -10 mA (mV)."""
    chip = specimen(part, 40)
    sweep = dc_sweep(f"X1 a b y vcc 0 {GATES[part]}\nVA a 0 0\nVB b 0 5\nVC vcc 0 5\nRY y 0 1meg",
                     "VA", -1.2, 5.0, 0.01, ["i(VA)", "v(y)"])
    at = {round(r[0], 2): r for r in sweep}
    volts = {k: 1.0 for k in range(1, 25)} | {k: 5.0 for k in (chip.at("VCC"), chip.at("1B"))}
    volts[chip.at("GND")] = 0.0

    def chip_current(volts_in: float) -> float:
        return chip.currents(volts | {chip.at("1A"): volts_in})[0][chip.at("1A")]

    for name, level in (("input at 0.4 V", 0.4), ("input at 0.2 V", 0.2)):
        yield Row(part, 40, name, "uA", -at[level][1] * 1e6, chip_current(level) * 1e6)
    knee = crossing(sweep[:220], lambda r: -r[1] + 10e-3)[0]
    low, high = -3.0, 0.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if chip_current(middle) < -10e-3 else (low, middle)
    yield Row(part, 40, "clamp at 10 mA", "mV", knee * 1e3, low * 1e3)
    # The threshold: where the output passes the middle of its swing.
    middle = 0.5 * (max(r[2] for r in sweep) + min(r[2] for r in sweep))
    flips_at = crossing(sweep, lambda r: r[2] - middle)[0]
    assert chip.circuit is not None
    yield Row(part, 40, "threshold", "mV", flips_at * 1e3,
              sum(chip.circuit.thresholds["1A"]) / 2 * 1e3)


def supply_rows(part: str) -> Iterator[Row]:
    """Package current in mA, all outputs low and all high, unloaded."""
    chip = specimen(part, 40)
    for state, level in (("low", 5.0), ("high", 0.0)):
        inputs = "".join(f"V{n}{k} {n}{k} 0 {level}\n" for n in "ab" for k in range(1, 5))
        sweep = dc_sweep(PACKAGE.format(GATES[part]) + inputs + "VG vss 0 0\nVC vcc 0 5",
                         "VC", 4.9, 5.1, 0.1, ["i(VC)"])
        ties = {chip.at(f"{k}{n}"): (level, 1e-3) for n in "AB" for k in range(1, 5)}
        ties |= {chip.at("VCC"): (5.0, 1e-3), chip.at("GND"): (0.0, 1e-3)}
        volts = solve(chip, ties)
        supply = chip.currents(volts)[0][chip.at("VCC")]
        yield Row(part, 40, f"supply outputs {state}", "mA", -sweep[1][1] * 1e3, supply * 1e3)


def contact_rows(part: str) -> Iterator[Row]:
    """Drop to each kind of pin with GND, then VCC, raised to 5 V through `medium`."""
    chip = specimen(part, 40)
    for raised, rail in (("GND", "vss"), ("VCC", "vcc")):
        for pin, node in (("1A", "a1"), ("1Y", "y1"), ("VCC", "vcc"), ("GND", "vss")):
            if pin == raised:
                continue
            nodes = ["vcc", "vss"] + [f"{n}{k}" for n in "aby" for k in range(1, 5)]
            leaks = "".join(f"Rleak{n} {n} 0 10meg\n" for n in nodes)
            sweep = dc_sweep(PACKAGE.format(GATES[part]) + leaks + f"VS s 0 0\nRS s {rail} "
                             f"{LOADS['medium']}\nRP {node} 0 {LOADS['weak']}", "VS", 0, 5.0, 0.05,
                             [f"v({rail})", f"v({node})"])
            _, top, bottom = sweep[-1]
            volts = solve(chip, {chip.at(raised): (5.0, LOADS["medium"]),
                                 chip.at(pin): (0.0, LOADS["weak"])})
            yield Row(part, 40, f"{raised} raised drop to {pin}", "mV", (top - bottom) * 1e3,
                      (volts[chip.at(raised)] - volts[chip.at(pin)]) * 1e3)


def all_rows() -> list[Row]:
    rows: list[Row] = []
    for part in GATES:
        for beta in BETAS[part]:
            rows += output_rows(part, beta)
        rows += input_rows(part)
        rows += supply_rows(part)
        if part not in UNPOWERED_AS_TTL:
            rows += contact_rows(part)
    return rows


def as_lines(rows: list[Row]) -> list[list[str]]:
    head = ["part", "beta", "what", "unit", "spice", "chip", "deviation"]
    return [head] + [[r.part, str(r.beta), r.what, r.unit, f"{r.spice:.1f}", f"{r.chip:.1f}",
                      f"{r.deviation:.1f}"] for r in rows]


def main() -> None:
    with TABLE.open("w", newline="", encoding="utf-8") as out:
        csv.writer(out, lineterminator="\n").writerows(as_lines(all_rows()))


if __name__ == "__main__":
    main()
