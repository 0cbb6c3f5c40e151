"""How well calibration does on many virtual fixtures: the table of host/sagbench/calibrate/README.md.

    PYTHONPATH=.:tests python tests/host/calibrate/calibration_survey.py 10

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from calibration_bench import truth  # noqa: E402
from virtual_fixture.inproc import Fixture  # noqa: E402

from sagbench.calibrate.alone import calibrate_alone  # noqa: E402
from sagbench.calibrate.evaluate import evaluate  # noqa: E402
from sagbench.calibrate.session import Given, Session, name_of  # noqa: E402
from sagbench.calibrate.with_resistor import measure_pair, pairs  # noqa: E402
from sagbench.device import Device  # noqa: E402
from sagbench.measure.calibration import Calibration  # noqa: E402
from sagbench.plan.fixture import load_fixture  # noqa: E402

Errors = dict[str, list[tuple[float, float]]]  # kind -> error and standard uncertainty


def calibrated(seed: int, resistor: Given, real: float) -> tuple[Calibration, Calibration]:
    """A virtual fixture calibrated alone and with a resistor that is really so many ohms."""
    fixture = load_fixture("bench24")
    with Fixture(seed=seed) as board, Device(board.line) as device:
        session = Session(seed, fixture.wiring_id, "", "2026-01-01T00:00:00+00:00")
        calibrate_alone(device, fixture, session, lambda *_: None)
        session.done["self"] = session.begun
        alone = evaluate(fixture, session, session.begun)
        session.external = resistor
        for pair in pairs(fixture):
            board.resistors(f"{pair[0]},{pair[1]}={real}")
            measure_pair(device, fixture, session, pair)
            session.done[name_of(pair)] = session.begun
        return alone, evaluate(fixture, session, session.begun)


def errors(calibration: Calibration, real: dict[str, float], into: Errors) -> None:
    """Add each component's error and uncertainty to its kind."""
    for name, component in calibration.components.items():
        if name in real:
            into[re.sub(r"\[\d+\]", "", name)].append((component.value - real[name], component.u))


def main(count: int) -> None:
    """Print kind, U (k = 2), rms error and share within U for both stages."""
    stages: tuple[Errors, Errors] = (defaultdict(list), defaultdict(list))
    gain: tuple[list[float], list[float]] = ([], [])
    for seed in range(1, count + 1):
        real = dict(truth(seed))
        ohms = 470 * (1 + 0.001 * ((seed * 7) % 11 - 5) / 5)
        for n, calibration in enumerate(calibrated(seed, Given(470.0, 0.47), ohms)):
            errors(calibration, real, stages[n])
            gain[n].append(calibration.components["icc_gain"].u / calibration.components["icc_gain"].value)
            print(seed, [round(s.misfit, 2) for s in calibration.stages], file=sys.stderr)
    for kind in stages[0]:
        cells = []
        for stage in stages:
            off = stage[kind]
            cells.append(
                f"U {2 * sum(u for _, u in off) / len(off):.3g}, rms error "
                f"{sqrt(sum(e * e for e, _ in off) / len(off)):.3g}, "
                f"within U {sum(abs(e) <= 2 * u for e, u in off) / len(off):.1%}"
            )
        print(kind, *cells, sep=" | ")
    print("icc_gain", *(f"U {2 * sum(g) / len(g):.2%}" for g in gain), sep=" | ")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
