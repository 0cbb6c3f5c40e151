# SPDX-License-Identifier: MIT
"""`sagbench fixture info`: who answers at the port, and how it is."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sagbench.device import Info
    from sagbench.wire.messages import State


def run(arguments: argparse.Namespace) -> int:
    """The fixture's answer, a line a fact.  Raises FixtureError if none answers."""
    from sagbench.device import Device
    from sagbench.cli.options import folded
    from sagbench.report.safe import visible

    with Device.connect(arguments.port) as device:
        told = facts(device.info, device.state())
        title, lines = calibrated(device.info)
    if arguments.json:
        json.dump({**dict(told), "calibration": title, "calibration_lines": lines}, sys.stdout, indent=1)
        sys.stdout.write("\n")
        return 0
    for line in [*(f"{name:<11} {value}" for name, value in [*told, ("calibration", title)]), *(f"  {line}" for line in lines)]:
        sys.stdout.write("".join(f"{part}\n" for part in folded(visible(line))))
    return 0


def calibrated(info: Info) -> tuple[str, list[str]]:
    """The fixture's calibration in a line, or why it has none; then how good it is, line by line."""
    from sagbench.calibrate import store
    from sagbench.cli.fixture_words import summary

    found = store.find(info)
    if found.unfit:
        return f"not used: {found.sentence}", []
    if not found.calibration:
        return f"none{': ' + found.sentence if found.sentence else ''}; data-book tolerances are assumed", []
    title, *lines = summary(found.calibration)
    return f"{title.partition(', calibration ')[2]}, in {found.path}", [line.strip() for line in lines]


def facts(info: Info, state: State) -> list[tuple[str, str]]:
    """Name and value pairs from who the fixture is and how it is."""
    from sagbench.device import RESETS

    faults = [(fault.name or "unknown").lower().replace("_", " ") for fault in state.faults]
    causes = [word for bit, word in RESETS.items() if info.reset_cause & bit]
    wiring = info.wiring or "not known to this program; flash the firmware that came with it"
    return [
        ("port", info.port),
        ("wiring", f"{wiring} ({info.wiring_id:08X})"),
        ("serial", "none set" if info.serial is None else str(info.serial)),
        ("firmware", f"{info.firmware}, API level {info.api_level}"),
        ("socket", f"{_positions(info)}, {'POWERED' if state.powered else 'not powered'}"),
        *_takes(info),
        ("faults", ", ".join(faults) or "none"),
        ("switches", "enabled" if state.registers_enabled else "disabled"),
        ("link", f"{state.frames_damaged} damaged frames"),
        ("stack", f"{state.stack_free} bytes never used" if state.stack_free else "not known"),
        ("running", f"{state.uptime_ms / 1000:.1f} s since {' and '.join(causes) or 'an unknown reset'}"),
    ]


def _positions(info: Info) -> str:
    from sagbench.plan.fixture import load_fixture
    from sagbench.selftest.findings import numbers

    present = load_fixture(info.wiring).present if info.wiring else range(1, info.positions + 1)
    left_out = len(present) < info.positions
    return f"{len(present)} positions" + (f" ({numbers(present)} of {info.positions})" if left_out else "")


def _takes(info: Info) -> list[tuple[str, str]]:
    """For each size of chip that this fixture's socket takes: where it can power it."""
    if not info.wiring:
        return []
    from sagbench.plan.fixture import load_fixture
    from sagbench.plan.rails import powered_pins
    from sagbench.selftest.findings import listed

    fixture = load_fixture(info.wiring)
    out = []
    for size in fixture.sizes:
        supply, ground = (listed(map(str, pins)) for pins in powered_pins(fixture, size))
        out.append((f"{size} pins", f"5 V at pin {supply}, ground at pin {ground}"))
    return out
