# SPDX-License-Identifier: MIT
"""The calibration that a sweep uses, and what is said if there is one that it must not use."""

from __future__ import annotations

import sys

from sagbench.calibrate.place import newest
from sagbench.device import Info
from sagbench.measure.components import Priors
from sagbench.plan.fixture import fixture_of
from sagbench.sweep.state import Options

ASSUMED = "data-book tolerances assumed"


def options_for(info: Info, *, without: bool = False) -> Options:
    """How to sweep on this fixture: with its calibration, unless there is none that may be used, or it is not wanted.

    One that must not be used is said on standard error and in the record.  Raises DeviceError for an unknown wiring.
    """
    if without:
        return Options(Priors(origin=f"none: not wanted (--no-calibration); {ASSUMED}"))
    if info.serial is None or newest(info.serial) is None:
        return Options()
    from sagbench.calibrate import store
    from sagbench.measure.calibration import priors_of

    found = store.find(info)
    if found.calibration and not found.unfit:
        return Options(priors_of(found.calibration, fixture_of(info.wiring_id)))
    if found.unfit:
        print(f"sagbench: the calibration is not used: {found.sentence}.", file=sys.stderr)
        return Options(Priors(origin=f"none: that in {found.path} is not used, {found.sentence}; {ASSUMED}"))
    return Options()
