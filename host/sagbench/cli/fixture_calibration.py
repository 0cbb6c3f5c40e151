# SPDX-License-Identifier: MIT
"""The calibration that a sweep uses, and what is said if there is one that it must not use."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from sagbench.calibrate.place import newest

if TYPE_CHECKING:
    from sagbench.device import Info
    from sagbench.sweep.state import Options

ASSUMED = "data-book tolerances assumed"


def options_for(info: Info, *, without: bool = False) -> Options | None:
    """How to sweep on this fixture: with its calibration, unless there is none that may be used, or it is not wanted.

    None: as ever, for there is none.  One that must not be used is said on standard error and in the record.
    Raises DeviceError for an unknown wiring.
    """
    if info.serial is None or newest(info.serial) is None:
        return None
    from sagbench.calibrate import store
    from sagbench.measure.calibration import priors_of
    from sagbench.measure.components import Priors
    from sagbench.plan.fixture import fixture_of
    from sagbench.sweep.state import Options

    if without:
        return Options(Priors(origin=f"none: not wanted (--no-calibration); {ASSUMED}"))
    found = store.find(info)
    if found.calibration and not found.unfit:
        return Options(priors_of(found.calibration, fixture_of(info.wiring_id)))
    if found.unfit:
        print(f"sagbench: the calibration is not used: {found.sentence}.", file=sys.stderr)
        return Options(Priors(origin=f"none: that in {found.path} is not used, {found.sentence}; {ASSUMED}"))
    return None
