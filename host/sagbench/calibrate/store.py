"""Where calibrations are kept: one JSON file each, dated, in the user's data folder, and what makes one unfit.

    $SAGBENCH_DATA                                   if set
    the platform's data folder for the user          (platformdirs: ~/.local/share/sagbench on Linux), else

    calibration-0000000007-20261125T192110Z.json     of fixture 7; the newest counts, older ones stay
    calibration-0000000007.part                      readings of one that is not finished

A file is written whole or not at all, with a seal: a digit that has changed since would go into every figure unseen.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sagbench.calibrate.place import VARIABLE, file_name, folder, newest
from sagbench.calibrate.session import Session, from_plain, to_plain
from sagbench.device import Info
from sagbench.errors import UsageError
from sagbench.measure.calibration import Calibration
from sagbench.plain import Misfit, line_of, line_of_mistake, shaped

FORMAT = "sagbench calibration"
VERSION = 1
SEAL = "seal"
FRESH_DAYS = 180  # an older one is not used: common practice for instruments of such parts is half a year to two years
RESUME_DAYS = 2  # readings of different days do not belong together: the temperature is another


@dataclass(frozen=True)
class Found:
    """What there is for a fixture: a calibration that may be used, or a sentence why there is none.

    unfit: True if there is something that should have been a calibration, but must not be used.
    """

    calibration: Calibration | None
    sentence: str = ""
    path: Path | None = None
    unfit: bool = False


# ------------------------------------------------------------------ calibrations
def must_be_writable() -> None:
    """Say before the fixture is touched, not after, that nothing can be kept. Raises UsageError."""
    place = folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place, prefix=".try-")
        os.close(handle)
        os.unlink(name)
    except OSError as wrong:
        raise _unwritable("a calibration", place, wrong) from None


def save(calibration: Calibration, stamp: str) -> Path:
    """Keep a calibration as the newest, that moment in its name. Raises UsageError if it cannot be written."""
    path = folder() / file_name(calibration.serial, stamp)
    raw = asdict(calibration)
    _write(path, json.dumps({"format": FORMAT, "version": VERSION, SEAL: seal(raw), **raw}, indent=1) + "\n", "the calibration")
    return path


def seal(raw: Mapping[str, Any]) -> str:
    """A check sum of all that was measured, the same whatever the order and the layout of its text."""
    return hashlib.sha256(json.dumps(raw, sort_keys=True).encode()).hexdigest()[:16]


def read(path: Path) -> Calibration:
    """The calibration in a file. Raises ValueError with a sentence if it is none, or damaged."""
    try:
        return parse(path.read_text(encoding="utf-8"), path)
    except OSError as wrong:
        raise ValueError(f"{path} cannot be read ({wrong.strerror})") from None
    except UnicodeDecodeError:
        raise ValueError(f"{path}:1: is damaged: it is not text any more") from None


def parse(text: str, path: Path) -> Calibration:
    """The calibration in a text; path: for the sentence. Raises ValueError as `read` does."""
    try:
        raw = json.loads(text)
    except ValueError as wrong:
        raise ValueError(f"{path}:{line_of_mistake(text, wrong)}: is damaged: it is not JSON any more") from None
    except RecursionError:
        raise ValueError(f"{path}:1: is damaged: nested too deep") from None
    if not isinstance(raw, dict) or raw.pop("format", None) != FORMAT:
        raise ValueError(f"{path}:1: is not a calibration")
    if (version := raw.pop("version", None)) != VERSION:
        raise ValueError(f"{path}:{line_of(text, ['version'])}: is of version {str(version)[:40]}, which this program does not read")
    sealed = raw.pop(SEAL, None)  # older files have none
    try:
        found = _from_raw(raw)
    except Misfit as wrong:
        raise ValueError(f"{path}:{line_of(text, wrong.path)}: is damaged: {wrong}") from None
    if sealed is not None and sealed != seal(raw):
        raise ValueError(f"{path}:{line_of(text, [SEAL])}: is damaged: its seal shows that something in it has changed since it was made")
    return found


def _from_raw(raw: Mapping[str, Any]) -> Calibration:
    """Raises Misfit."""
    _must_be_numbers(raw, ())
    found: Calibration = shaped(Calibration, raw)
    if not found.components:
        raise Misfit(("components",), "has none")
    if wrong := next((name for name, c in found.components.items() if not c.u > 0), None):
        raise Misfit(("components", wrong), "has no uncertainty")
    try:
        if datetime.fromisoformat(found.made).tzinfo is None:
            raise ValueError
    except ValueError:
        raise Misfit(("made",), f"is {found.made[:40]!r}, must be a moment with its time zone") from None
    return found


def _must_be_numbers(raw: Any, path: tuple[str | int, ...]) -> None:
    """No null, nothing endless: a calibration holds only what was measured."""
    if raw is None or isinstance(raw, int | float) and not abs(raw) < 1e12:
        raise Misfit(path, "is no number that can have been measured")
    for key, value in raw.items() if isinstance(raw, Mapping) else enumerate(raw) if isinstance(raw, list) else ():
        _must_be_numbers(value, (*path, key))


def find(info: Info, now: datetime | None = None) -> Found:
    """The calibration to use with this fixture, or why there is none."""
    if info.serial is None:
        return Found(None, "the fixture has no serial number, so no calibration can belong to it")
    path = newest(info.serial)
    if path is None:
        return Found(None)
    try:
        calibration = read(path)
    except ValueError as wrong:
        return Found(None, f"{wrong}; calibrate again, or remove the file to use an older one", path, True)
    if why := unfit(calibration, info, now or datetime.now(UTC)):
        return Found(calibration, f"{why}; calibrate again", path, True)
    return Found(calibration, "", path)


def unfit(calibration: Calibration, info: Info, now: datetime) -> str:
    """Why a calibration must not be used with this fixture; empty if it may."""
    if calibration.serial != info.serial:
        return f"it is of fixture {calibration.serial}, not of fixture {info.serial}"
    if calibration.wiring_id != info.wiring_id:
        return (
            f"it was made with wiring {calibration.wiring_id:08X}, the fixture's firmware now has {info.wiring_id:08X}"
        )
    made = datetime.fromisoformat(calibration.made)
    age = now - made
    if age > timedelta(days=FRESH_DAYS):
        return f"it is of {calibration.made[:10]}, {age.days} days old; {FRESH_DAYS} are allowed"
    if age < timedelta(days=-1):
        return f"it is of {calibration.made[:10]}, which is yet to come: see that this computer's clock is right"
    return ""


# ------------------------------------------------------------------ sessions
def part_path(serial: int) -> Path:
    """Where the readings of an unfinished calibration are."""
    return folder() / f"calibration-{serial:010d}.part"


def save_session(session: Session) -> Path:
    """Keep what has been read so far. Raises UsageError if it cannot be written."""
    path = part_path(session.serial)
    raw = {"format": f"{FORMAT}, unfinished", "version": VERSION, **to_plain(session)}
    _write(path, json.dumps(raw) + "\n", "the readings so far")
    return path


def load_session(info: Info, now: datetime) -> tuple[Session | None, str]:
    """An unfinished calibration of this fixture, and a sentence if there is one that is of no use."""
    assert info.serial is not None
    path = part_path(info.serial)
    if not path.exists():
        return None, ""
    try:
        session = parse_session(path.read_text(encoding="utf-8"))
        age = now - datetime.fromisoformat(session.begun)
    except (OSError, ValueError):
        return None, f"{path} is damaged and not used: the calibration begins anew."
    if session.serial != info.serial or session.wiring_id != info.wiring_id:
        return None, f"{path} is of another fixture or wiring and not used: the calibration begins anew."
    if not timedelta(0) <= age <= timedelta(days=RESUME_DAYS):
        return (
            None,
            f"The readings begun on {session.begun[:10]} are too old to go on with: the calibration begins anew.",
        )
    return session, ""


def parse_session(text: str) -> Session:
    """The unfinished calibration in a text. Raises ValueError if it is damaged."""
    try:
        session = from_plain(json.loads(text))
        if datetime.fromisoformat(session.begun).tzinfo is None:
            raise ValueError("begun without a time zone")
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, ArithmeticError, RecursionError) as wrong:
        raise ValueError(f"damaged: {wrong}") from None
    return session


def forget_session(serial: int) -> None:
    """Remove the readings of a calibration that is finished."""
    with contextlib.suppress(OSError):
        part_path(serial).unlink()


def _write(path: Path, text: str, what: str) -> None:
    """The whole file or nothing."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            os.replace(temporary, path)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
            raise
    except OSError as wrong:
        raise _unwritable(what, path, wrong) from None


def _unwritable(what: str, where: Path, wrong: OSError) -> UsageError:
    why = (wrong.strerror or "the system refuses").lower()
    return UsageError(
        f"{what} cannot be written to {where} ({why}); make room, or set {VARIABLE} to a folder that can be "
        "written, and start again."
    )
