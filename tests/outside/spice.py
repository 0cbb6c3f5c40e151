"""Run ngspice in batch mode and read its columns.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

GATES = Path(__file__).with_name("gates.inc")


def dc_sweep(netlist: str, source: str, start: float, stop: float, step: float,
             vectors: list[str]) -> list[tuple[float, ...]]:
    """Rows (swept value, vector, vector, ...) of a DC sweep at 27 C.

    RuntimeError with ngspice's own words if it gives no result.
    """
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.txt"
        deck = Path(folder) / "deck.cir"
        deck.write_text(
            f"* generated\n.include {GATES}\n{netlist}\n.options gmin=1e-13 reltol=1e-5\n"
            f".control\ndc {source} {start} {stop} {step}\n"
            f"wrdata {out} {' '.join(vectors)}\nquit\n.endc\n.end\n", encoding="ascii")
        run = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True,
                             timeout=60, check=False)
        if not out.exists():
            raise RuntimeError(f"ngspice gave no data: {(run.stdout + run.stderr)[-600:]}")
        rows = [[float(x) for x in line.split()] for line in out.read_text().splitlines()]
    # wrdata repeats the sweep before every vector.
    return [(row[0], *row[1::2]) for row in rows]
