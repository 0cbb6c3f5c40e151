# SPDX-License-Identifier: MIT
"""`sagbench fixture info`: who answers at the port, and how it is."""
from __future__ import annotations

import argparse
import sys
from typing import Any

NO_SERIAL = 0xFFFFFFFF                   # what an EEPROM that was never written holds
RESETS = {1: "power-on", 2: "reset button or port opened", 4: "supply too low", 8: "watchdog"}


def run(arguments: argparse.Namespace) -> int:
    """The fixture's answer, a line a fact.  Raises FixtureError if none answers."""
    from sagbench.device import Device
    from sagbench.report.safe import visible
    with Device.connect(arguments.port) as device:
        for name, value in facts(device.info, device.state()):
            sys.stdout.write(visible(f"{name:<13} {value}") + "\n")
    return 0


def facts(info: Any, state: Any) -> list[tuple[str, str]]:
    """Name and value pairs from the fixture's welcome and state messages (fields as in the wire spec)."""
    faults = [fault.name.lower().replace("_", " ") for fault in state.faults]
    causes = [word for bit, word in RESETS.items() if info.reset_cause & bit]
    return [
        ("fixture", info.name),
        ("port", info.port),
        ("serial", "none set" if info.serial == NO_SERIAL else str(info.serial)),
        ("firmware", f"{info.version >> 8}.{info.version & 0xFF}, API level {info.api_level}"),
        ("wiring", f"{info.wiring_id:08X}"),
        ("socket", f"{info.positions} positions, {'powered' if state.powered else 'not powered'}"),
        ("faults", ", ".join(faults) or "none"),
        ("switch chain", "enabled" if state.registers_enabled else "off"),
        ("link", f"{state.frames_damaged} damaged frames"),
        ("stack", f"{state.stack_free} bytes never used" if state.stack_free else "not known"),
        ("running", f"{state.uptime_ms / 1000:.1f} s since {' and '.join(causes) or 'an unknown reset'}"),
    ]
