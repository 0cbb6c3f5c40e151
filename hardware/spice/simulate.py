"""Run ngspice on a circuit and read back what it found.

    >>> run("* a divider\\nV1 a 0 3\\nR1 a b 1k\\nR2 b 0 2k\\n", "op", ["v(b)"])["v(b)"]
    [2.0]

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import itertools
import math
import re
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

PATIENCE_S = 120
OPTIONS = ".options reltol=1e-4 abstol=1e-10 vntol=1e-7 gmin=1e-12 itl1=500 itl4=100 method=gear"


class SpiceError(RuntimeError):
    """ngspice is not there, or found no solution; the text says which, with its own words."""


def run(circuit: str, analysis: str, wanted: Sequence[str], options: str = "") -> dict[str, list[float]]:
    """One analysis ("op", "dc V1 0 5 0.1", "tran 1u 10m"): wanted vector -> its values along the analysis.

    Beside the vectors wanted there is "scale": volts or amperes swept, or seconds.  Volts, amperes.
    Raises SpiceError.
    """
    with tempfile.TemporaryDirectory(prefix="spice") as folder:
        deck, raw = Path(folder) / "deck.cir", Path(folder) / "out.raw"
        deck.write_text(f"{circuit}{OPTIONS}\n{options}\n.control\nset filetype=ascii\n{analysis}\nwrite {raw} {' '.join(wanted)}\n"
                        "quit\n.endc\n.end\n")
        try:
            done = subprocess.run(["ngspice", "-b", str(deck)], cwd=folder, text=True, capture_output=True, timeout=PATIENCE_S,
                                  check=False)
        except FileNotFoundError:
            raise SpiceError("ngspice is not installed; apt-get install ngspice") from None
        except subprocess.TimeoutExpired:
            raise SpiceError(f"ngspice has not finished `{analysis}` within {PATIENCE_S} s") from None
        if not raw.is_file() or re.search(r"aborted|doAnalyses:|singular matrix", done.stdout + done.stderr):
            said = [line for line in (done.stdout + done.stderr).splitlines() if re.search(r"error|abort|singular|no such", line, re.I)]
            raise SpiceError(f"ngspice gave no result for `{analysis}`: {'; '.join(said) or done.stderr[-300:]}")
        return _read(raw.read_text(), wanted)


def _read(raw: str, wanted: Sequence[str]) -> dict[str, list[float]]:
    """Vectors of an ASCII raw file.  One whose points are fewer than it says is refused."""
    head, _, body = raw.partition("Values:\n")
    names = [line.split("\t")[2].lower() for line in head.partition("Variables:")[2].splitlines() if line.startswith("\t")]
    count = len(names)
    numbers = [float(field) for field in re.findall(r"(?<=\t)[-+.\deE]+(?=\n|$)", body)]
    points = int(re.search(r"No\. Points:\s*(\d+)", head)[1])  # type: ignore[index]
    if len(numbers) != points * count:
        raise SpiceError(f"ngspice wrote {len(numbers)} values where {points} points of {count} vectors were due")
    found = {name: numbers[i::count] for i, name in enumerate(names)}
    # An operating point has no scale of its own: the first vector stands for it.
    return {"scale": numbers[0::count], **{name: found[name.lower()] for name in wanted}}


def crossing(scale: Sequence[float], values: Sequence[float], level: float, rising: bool, after: float = -math.inf) -> float:
    """Where on the scale the values first cross a level that way, after a point; between two points along a straight line.

    Infinity if they never do.
    """
    sign = 1 if rising else -1
    points = list(zip(scale, values, strict=True))
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if x1 > after and sign * (y0 - level) < 0 <= sign * (y1 - level):
            return max(x0 + (x1 - x0) * (level - y0) / (y1 - y0), after)
    return math.inf
