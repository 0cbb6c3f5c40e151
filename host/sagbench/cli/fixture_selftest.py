# SPDX-License-Identifier: MIT
"""`sagbench fixture selftest`: test the fixture, name the parts to look at."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING

from sagbench.cli import interrupts
from sagbench.errors import EXIT_FIXTURE, EXIT_NO_VERDICT, EXIT_SOUND, UsageError

if TYPE_CHECKING:
    from sagbench.selftest.findings import Check, Report


def run(arguments: argparse.Namespace) -> int:
    """Test and tell; the exit code is the result. Raises FixtureError."""
    with interrupts.held():
        from sagbench.device import Device
        from sagbench.plan.fixture import fixture_of
        from sagbench.selftest.findings import Result
        from sagbench.selftest.run import selftest
    ohms = _ohms(arguments.resistor)
    with Device.connect(arguments.port) as device:
        shown = _shown if sys.stderr.isatty() else lambda *_: None
        report = selftest(device, fixture_of(device.info.wiring_id), shown, ohms)
        port = device.info.port
    if arguments.json:
        json.dump(
            {
                "port": port,
                "result": report.result,
                "not_empty": report.not_empty,
                "checks": [asdict(check) for check in report.checks],
            },
            sys.stdout,
            indent=1,
        )
        sys.stdout.write("\n")
    else:
        sys.stdout.write("".join(f"{line}\n" for line in _lines(report, everything=arguments.all)))
    return {Result.FAULT: EXIT_FIXTURE, Result.UNSURE: EXIT_NO_VERDICT}.get(report.result, EXIT_SOUND)


def _ohms(text: str | None) -> float | None:
    from sagbench.calibrate.with_resistor import LEAST_OHM, MOST_OHM

    if text is None:
        return None
    try:
        ohms = float(text)
    except ValueError:
        raise UsageError(f"--resistor {text} cannot be read: give its ohms, like 470.") from None
    if not LEAST_OHM <= ohms <= MOST_OHM:
        raise UsageError(
            f"--resistor takes {LEAST_OHM:g} to {MOST_OHM:g} ohm; with less the firmware sees a short of its supply."
        )
    return ohms


def _shown(what: str, done: int, whole: int) -> None:
    """One line on the terminal that the next one takes the place of."""
    text = f"{done + 1} of {whole}: {what}" if done < whole else ""
    sys.stderr.write(f"\r\x1b[K{text}")
    sys.stderr.flush()


def _lines(report: Report, *, everything: bool) -> list[str]:
    """The report for people: faults first."""
    from sagbench.cli.options import folded
    from sagbench.report.safe import visible
    from sagbench.selftest.findings import PAGE, Result

    lines = []
    for heading, result in (("FAULT", Result.FAULT), ("CANNOT TELL", Result.UNSURE)):
        for check in report.of(result):
            lines += [f"{heading}: {check.sentence}", *_where(check)]
    if report.not_empty:
        lines.append(f"The socket is not empty: {report.not_empty}.")
    fine = report.of(Result.FINE)
    if everything:
        lines += [f"fine: {check.sentence}" for check in fine]
    lines += [f"not tested: {check.name}: {check.sentence}" for check in report.of(Result.NOT_TESTED)]
    words = {Result.FAULT: "The fixture has a fault", Result.UNSURE: "No verdict"}.get(
        report.result, "The fixture is sound"
    )
    faults = len(report.of(Result.FAULT))
    counts = (f"{len(fine)} {'check' if len(fine) == 1 else 'checks'} fine, {faults} {'fault' if faults == 1 else 'faults'}, "
              f"{len(report.of(Result.UNSURE))} not certain, {len(report.of(Result.NOT_TESTED))} not made")  # fmt: skip
    lines += [f"Each check is explained in {PAGE}.", f"{words}: {counts}."]
    return [part for line in lines for part in folded(visible(line))]


def _where(check: Check) -> list[str]:
    from sagbench.selftest.findings import PAGE

    parts = f"    look at {', '.join(check.parts)}; " if check.parts else "    "
    return [f"{parts}see {PAGE}#{check.section}"]
