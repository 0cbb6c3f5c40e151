# SPDX-License-Identifier: MIT
"""`sagbench fixture calibrate`: the stages one after the other, and what has come of them."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sagbench.cli import interrupts
from sagbench.errors import EXIT_INTERRUPTED, EXIT_NO_VERDICT, UsageError

if TYPE_CHECKING:
    from sagbench.calibrate.session import Given, Session
    from sagbench.device import Device, Info
    from sagbench.measure.calibration import Calibration
    from sagbench.plan.fixture import Fixture

WRITTEN_S = 0.3  # four bytes of EEPROM take 14 ms
CAUTION = (
    "Put the resistor in and take it out by its insulated body; the positions carry 5 V and no more than 30 mA "
    "while it is measured."
)


def run(arguments: argparse.Namespace) -> int:
    """All stages that were asked for. Raises UsageError, FixtureError; what has been measured is kept in either case."""
    with interrupts.held():
        from sagbench.calibrate import store
        from sagbench.calibrate.walk import NotFinished
        from sagbench.device import Device
    wanted = _Wanted(arguments)
    store.must_be_writable()
    with Device.connect(arguments.port) as device:
        info = _numbered(device, arguments)
    try:
        with Device.connect(info.port) as device:
            if device.info.serial != info.serial:
                raise UsageError(
                    f"The fixture did not keep its serial number {info.serial}: its memory may be worn out."
                )
            calibration, path = _calibrate(device, wanted)
    except NotFinished as stopped:
        print(f"sagbench: {stopped}", file=sys.stderr)
        return EXIT_NO_VERDICT
    except KeyboardInterrupt:
        known = store.load_session(info, datetime.now(UTC))[0]
        kept = (
            "what has been measured is kept: the same command goes on with it"
            if known and "self" in known.done
            else "stage 1 takes some seconds and begins anew with the same command"
        )
        print(f"sagbench: interrupted; {kept}.", file=sys.stderr)
        return EXIT_INTERRUPTED
    if arguments.json:
        raw = {key: value for key, value in asdict(calibration).items() if key != "residuals"}
        sys.stdout.write(json.dumps({"file": str(path), **raw}, indent=1) + "\n")
    else:
        from sagbench.cli.fixture_words import summary
        from sagbench.cli.options import folded

        told = [*summary(calibration), f"kept in {path}"]
        sys.stdout.write("".join(f"{part}\n" for line in told for part in folded(line)))
    return 0


class _Wanted:
    """What the command line asks for, checked before the fixture is touched."""

    def __init__(self, arguments: argparse.Namespace) -> None:
        from sagbench.calibrate.with_resistor import BEST_OHM, LEAST_OHM, MOST_OHM

        self.resistor = given("--resistor", arguments.resistor, "ohm", 0.001)
        if self.resistor and not LEAST_OHM <= self.resistor.value <= MOST_OHM:
            raise UsageError(
                f"--resistor takes {LEAST_OHM:g} to {MOST_OHM:g} ohm, {BEST_OHM} is best: less than that the "
                "fixture takes for a short of its supply, more gives too coarse readings."
            )
        if self.resistor and self.resistor.off > 0.02 * self.resistor.value:
            raise UsageError("--resistor needs one that is known to 2 % or better, else it makes nothing more certain.")
        self.where, self.meter = "", None
        for where, text in (("rail", arguments.rail), ("reference", arguments.reference)):
            if value := given(f"--{where}", text, "V", None):
                self.where, self.meter = where, value
        self.fresh: bool = arguments.fresh
        self.wait: float | None = arguments.wait


def given(option: str, text: str | None, unit: str, default: float | None) -> Given | None:
    """`470,0.1%` or `5.012,0.005`; default: how far off as a share, if it is not said. Raises UsageError."""
    from sagbench.calibrate.session import Given

    if text is None:
        return None
    value, _, off = text.partition(",")
    try:
        number = float(value)
        if not off and default is None:
            raise ValueError
        apart = (
            number * (default or 0.0)
            if not off
            else number * float(off[:-1]) / 100
            if off.endswith("%")
            else float(off)
        )
    except ValueError:
        raise UsageError(
            f"{option} {text} cannot be read: give the value in {unit} and how far off it may be, like "
            f"{'470,0.1%' if unit == 'ohm' else '5.012,0.005'}."
        ) from None
    if not (0 < number < 1e9 and 0 < apart < number):
        raise UsageError(f"{option} {text} cannot be: both numbers must be above 0, the second below the first.")
    return Given(number, apart)


def _numbered(device: Device, arguments: argparse.Namespace) -> Info:
    """Who the fixture is; a serial number is set if it has none and the user gives one."""
    info: Info = device.info
    if info.serial is None:
        if arguments.serial is None:
            raise UsageError(
                "This fixture has no serial number yet, and a calibration must know whose it is: add --serial 1 "
                "(or any other number that none of your fixtures has); the fixture keeps it."
            )
        device.set_serial(arguments.serial)
        time.sleep(WRITTEN_S)  # opening the port anew restarts the controller, which must not fall into this
        return replace(info, serial=arguments.serial)
    if arguments.serial not in (None, info.serial):
        raise UsageError(f"This fixture is number {info.serial} already, not {arguments.serial}; leave --serial out.")
    return info


def _calibrate(device: Device, wanted: _Wanted) -> tuple[Calibration, Path]:
    from sagbench.calibrate import meter, store
    from sagbench.calibrate.passes import clear
    from sagbench.plan.fixture import fixture_of

    fixture = fixture_of(device.info.wiring_id)
    now = datetime.now(UTC)
    clear(device)
    earlier = store.find(device.info, now)
    good = earlier.calibration if earlier.calibration and not earlier.unfit else None
    if earlier.unfit:
        _say(f"An earlier calibration is not used: {earlier.sentence}.")
    only_meter = wanted.meter and not wanted.resistor and not wanted.fresh and good
    if only_meter and good:
        calibration = good
    else:
        calibration = _stages(device, fixture, wanted, good)
        if good:
            calibration = meter.carried_over(calibration, good)
    if wanted.meter:
        code = meter.reference_code(device)
        calibration = meter.with_meter(calibration, fixture, wanted.where, wanted.meter, code, _stamp())
    path = store.save(calibration, _stamp())
    return calibration, path


def _stages(device: Device, fixture: Fixture, wanted: _Wanted, good: Calibration | None) -> Calibration:
    """Stage 1, and stage 2 if there is a resistor."""
    from sagbench.calibrate import store
    from sagbench.calibrate.evaluate import evaluate
    from sagbench.calibrate.session import Session

    info = device.info
    assert info.serial is not None
    session, note = (None, "") if wanted.fresh else store.load_session(info, datetime.now(UTC))
    if note:
        _say(note)
    if not wanted.resistor and not wanted.fresh and good and any(s.name == "external" for s in good.stages):
        raise UsageError(
            f"Fixture {info.serial} has a calibration with an external resistor, of {good.made[:10]}; without one it "
            "would get worse. Give --resistor, or --fresh if that is what you want."
        )
    if session is None:
        session = Session(info.serial, info.wiring_id, info.firmware, _stamp())
    if not (wanted.resistor and "self" in session.done):
        _alone(device, fixture, session)
        store.save_session(session)
    else:
        _say(f"Going on with what was measured on {session.begun[:16].replace('T', ' ')} UTC.")
    if wanted.resistor:
        if session.external and session.external != wanted.resistor:
            _say(f"What was measured with {session.external.value:g} ohm is dropped: it is another resistor now.")
            session.forget_external()
        session.external = wanted.resistor
        _with_resistor(device, fixture, session, wanted, lambda: store.save_session(session))
    elif session.external:
        session.forget_external()
    calibration = evaluate(fixture, session, session.begun)
    if wanted.resistor:
        store.forget_session(info.serial)
    return calibration


def _alone(device: Device, fixture: Fixture, session: Session) -> None:
    from sagbench.calibrate import find
    from sagbench.calibrate.alone import calibrate_alone

    there = find.everything(device, fixture)
    if there:
        places = ", ".join(f"{b.low} and {b.high}" for b in there[:3])
        raise UsageError(
            f"The socket is not empty: positions {places} conduct. Take out what is in it and start again; if it is "
            "empty, run `sagbench fixture selftest`."
        )
    calibrate_alone(
        device, fixture, session, lambda what, done, whole: _say(f"Stage 1, {done + 1} of {whole}: {what}.")
    )
    session.done = {"self": _stamp()}


def _with_resistor(
    device: Device, fixture: Fixture, session: Session, wanted: _Wanted, keep: Callable[[], object]
) -> None:
    from sagbench.calibrate.walk import Waiting, walk
    from sagbench.cli.options import folded

    _say("\n".join(folded(f"Stage 2. {CAUTION}")))
    try:
        walk(device, fixture, session, Waiting(wanted.wait), _say, keep)
    except KeyboardInterrupt:
        device.halt()
        raise


def _say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _stamp() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
