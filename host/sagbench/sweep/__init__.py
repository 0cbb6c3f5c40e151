"""One sweep of one chip: the only room that joins plan, device, measure and judge.

    contact check, unpowered -> rail and references -> zero of ICC -> power -> supply current in each static state
    -> logic test unloaded -> bipolar or CMOS? -> the same under each load -> pulse widths -> thresholds, at once and
    clocked in -> input currents -> load lines -> power off

Whatever happens, the chip is without power at the end.

    record = sweep(device, load_part("74LS04"))

    flow.py      the order of the stages, and what ends a sweep early
    state.py     what a sweep knows while it is under way; passes and their faults
    contact.py   power.py   measuring.py   the stages

SPDX-License-Identifier: MIT
"""

from sagbench.sweep.flow import STAGES, gather, sweep
from sagbench.sweep.state import Options

__all__ = ["STAGES", "Options", "gather", "sweep"]
