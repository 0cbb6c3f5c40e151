# SPDX-License-Identifier: MIT
"""`sagbench fixture info`: who answers at the port, and how it is."""
from __future__ import annotations

import argparse
import sys


def run(arguments: argparse.Namespace) -> int:
    """The fixture's answer, a line a fact.  Raises FixtureError if none answers."""
    from sagbench.device import Device
    from sagbench.report.safe import visible
    with Device.connect(arguments.port) as device:
        for name, value in facts(device.info, device.state()):
            sys.stdout.write(visible(f"{name:<13} {value}") + "\n")
    return 0
