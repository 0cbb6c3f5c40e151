"""A chip between resistors and sources, solved by Newton: enough for a referee.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import numpy as np

from virtual_fixture.chips import Chip

FLOATING_OHM = 1e7               # what hangs on a position that nothing is tied to


def solve(chip: Chip, ties: dict[int, tuple[float, float]], settle: bool = True,
          rounds: int = 400) -> dict[int, float]:
    """Volts of all 24 positions; `ties` is {position: (volts, ohms)}, the rest float.

    RuntimeError if Newton or the logic does not come to rest.
    """
    conductance = np.array([1 / ties.get(k, (0.0, FLOATING_OHM))[1] for k in range(1, 25)])
    source = np.array([ties.get(k, (0.0, 0.0))[0] for k in range(1, 25)])
    volts = source.copy()
    for _ in range(20):
        for k in range(rounds):
            currents, slopes = chip.currents(dict(enumerate(volts, 1)))
            residual = np.array(currents[1:]) - conductance * (source - volts)
            step = -np.linalg.solve(np.array(slopes)[1:, 1:] + np.diag(conductance), residual)
            step = np.clip(step, -0.3, 0.3) * (1.0 if k < 100 else 0.5)
            volts = volts + step
            if np.max(np.abs(step)) < 1e-9:
                break
        else:
            raise RuntimeError("the network does not converge")
        if not settle or not chip.settle(dict(enumerate(volts, 1))):
            return dict(enumerate((float(v) for v in volts), 1))
    raise RuntimeError("the logic does not settle")
