"""Who reads which kind of file, and how it is told whether what it said will do.

Each reader is the program's own command where there is one. It returns what was said, and whether the file was taken; what a
taken file must fulfil beside is checked by a referee: JSON Schema by the package jsonschema, `tomllib`, the check of its copy.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import contextlib
import io
import json
import math
import os
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema

from fuzz.tally import ROOT
from hardware import check as wiring_check
from hardware import derive_c
from hardware.wiring import load as load_wiring
from sagbench.calibrate import place, store
from sagbench.cli import main as command
from sagbench.cli.settings import KINDS, settings
from sagbench.device import Info
from sagbench.measure.calibration import Calibration
from sagbench.parts.reader import schema as part_schema
from sagbench.report.codec import schema as record_schema

INTERNAL = ("Traceback", "a mistake in sagbench itself")
CHIPS = ROOT / "tests/virtual_fixture/chips/demo"
LIBRARY = ROOT / "host/sagbench/parts/library"


@dataclass
class Said:
    """An answer. taken: the file was accepted; text: all that was said; wrong: what a referee has against it."""

    taken: bool
    text: str
    wrong: str = ""


@dataclass(frozen=True)
class Kind:
    """A kind of file: examples of it (name -> bytes), and its reader. line: a refusal names the line."""

    name: str
    file: str
    seeds: Callable[[], dict[str, bytes]]
    read: Callable[[Path], Said]


def _told(*words: str) -> tuple[int, str]:
    """The command in this process: exit code, and what it wrote."""
    out, err = io.StringIO(), io.StringIO()
    settings.cache_clear()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = command.main(list(words))
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else 2
    finally:
        settings.cache_clear()
    return code, out.getvalue() + err.getvalue()


def _toml(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8-sig"))


# ------------------------------------------------------------------ the user's files
def part(path: Path) -> Said:
    """`sagbench parts check`: exit code 0 or 2."""
    code, text = _told("parts", "check", str(path))
    if code not in (0, 2):
        return Said(False, text, f"exit code {code}")
    wrong = ""
    if code == 0:
        data = _toml(path)
        if "like" not in data:
            wrong = "; ".join(e.message for e in jsonschema.Draft202012Validator(part_schema()).iter_errors(data))
    return Said(code == 0, text, wrong)


def aliases(path: Path) -> Said:
    """House numbers: `sagbench parts check` too."""
    code, text = _told("parts", "check", str(path))
    wrong = f"exit code {code}" if code not in (0, 2) else ""
    if code == 0 and not all(isinstance(v, str) for v in _toml(path).get("alias", {}).values()):
        wrong = "a house number stands for no text"
    return Said(code == 0, text, wrong)


def configuration(path: Path) -> Said:
    """The settings file: every command reads it."""
    code, text = _told("parts", "show", "7400")
    taken, wrong = code == 0, f"exit code {code}" if code not in (0, 2) else ""
    if taken:
        found = _toml(path)
        if strange := set(found) - set(KINDS):
            wrong = f"{strange} went through"
        guard = found.get("guard", 1)
        if isinstance(guard, bool) or not (isinstance(guard, int | float) and 0 <= guard <= 10):
            wrong = f"a guard of {guard!r} went through"
        wrong = wrong or next((f"{key} = {found[key]!r} went through" for key, kind in (("port", str), ("silent", bool), ("small", bool))
                               if not isinstance(found.get(key, kind()), kind)), "")
    elif "there is no folder" in text:              # the settings are in order, and one of the folders they name is not there
        return Said(True, text)
    return Said(taken, text, wrong)


INFO = Info("port", 2, 0xABCD, "bench24", 7, "1.0", 1, 24)


def calibration(path: Path) -> Said:
    """The newest calibration of a fixture, as a sweep looks for it."""
    found = store.find(INFO)
    if found.calibration is None:
        return Said(False, found.sentence)
    wrong = _finite(found.calibration)
    again = replace(found.calibration, made="2026-02-20T10:00:00+00:00", serial=8)
    kept = store.save(again, again.made)
    if not wrong and store.read(kept) != again:
        wrong = "written and read again it is another one"
    kept.unlink()
    return Said(True, found.sentence, wrong)


def _finite(calibration: Calibration) -> str:
    numbers = [n for c in calibration.components.values() for n in (c.value, c.u, *c.factors.values())] + [*calibration.inl, calibration.inl_u]
    return "" if all(math.isfinite(n) for n in numbers) else "a number in it is none"


def record(path: Path) -> Said:
    """`sagbench report FILE --html PAGE`: any verdict's exit code, or 2."""
    page = path.with_suffix(".page")
    code, text = _told("report", str(path), "--html", str(page))
    taken, wrong = page.exists(), f"exit code {code}" if code not in (0, 1, 2, 4, 130) else ""
    if taken:
        wrong = wrong or harm_in_page(page.read_text(encoding="utf-8")) or "; ".join(
            e.message for e in jsonschema.Draft202012Validator(record_schema()).iter_errors(json.loads(path.read_text("utf-8-sig"))))
        page.unlink()
    return Said(taken, text, wrong)


def harm_in_page(page: str) -> str:
    """What in a page could run or fetch; empty if nothing. Reader: Python's html.parser."""
    from html.parser import HTMLParser
    found: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
            if tag in ("script", "iframe", "object", "embed", "link", "base", "form", "img", "image", "use", "foreignobject", "a"):
                found.append(f"<{tag}>")
            found.extend(f"{tag} {name}" for name, _ in attributes if name.startswith("on") or name in ("src", "href", "xlink:href", "srcdoc"))

    Reader().feed(page)
    return ", ".join(found)


# ------------------------------------------------------------------ the builder's and the tests' files
def wiring(path: Path) -> Said:
    """`python -m hardware.check`."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = wiring_check.main([str(path)])
    wrong = f"exit code {code}" if code not in (0, 1, 2) else ""
    if code == 0:
        fixture = load_wiring(path)
        derive_c.header(fixture, fixture), derive_c.source(fixture)          # what is called sane must be of use
    return Said(code == 0, out.getvalue() + err.getvalue(), wrong)


def chip(path: Path) -> Said:
    """A virtual chip: read and built."""
    from virtual_fixture.chips.chip import Chip
    from virtual_fixture.chips.description import read
    from virtual_fixture.chips.errors import ChipFileError
    try:
        description = read(path)
    except ChipFileError as refused:
        return Said(False, str(refused))
    if description.part is not None:
        Chip(description, 1)
    return Said(True, "")


# ------------------------------------------------------------------ examples
def _some(folder: Path, names: str) -> dict[str, bytes]:
    return {name: (folder / f"{name}.toml").read_bytes() for name in names.split()}


@cache
def _calibrations() -> dict[str, bytes]:
    from host.calibrate.test_calibrate_store import SOUND
    before = os.environ.get(place.VARIABLE, "")
    kept = store.save(SOUND, SOUND.made)
    data = kept.read_bytes()
    kept.unlink()
    assert os.environ.get(place.VARIABLE, "") == before
    return {"json": data}


@cache
def _records() -> dict[str, bytes]:
    from host.report import examples
    from sagbench.report.codec import to_json
    return {f"{name} json": to_json(examples.ALL[name]()).encode() for name in ("sound_inverter", "not_seated")}


SETTINGS = b'''# my bench
port = "/dev/ttyUSB0"
guard = 1.0
parts_dirs = []
silent = true
small = false
'''
ALIASES = b'[alias]\n"1820-0054" = "7400"\n"443-1" = "SN7400N"\n"443-5" = "74LS74"\n'

KINDS_OF_FILES = (
    Kind("part", "1034.toml", lambda: _some(LIBRARY, "00 03 125 138 74 14 123"), part),
    Kind("aliases", "aliases.toml", lambda: {"aliases": ALIASES}, aliases),
    Kind("configuration", "settings.toml", lambda: {"settings": SETTINGS}, configuration),
    Kind("calibration", "calibration-0000000007-20260220T100000Z.json", _calibrations, calibration),
    Kind("record", "record.json", _records, record),
    Kind("wiring", "wiring.toml", lambda: {"full": (ROOT / "hardware/wiring.toml").read_bytes()}, wiring),
    Kind("chip", "chip.toml", lambda: _some(CHIPS, "curve_7400 corroded_74ls00 leaky_74ls74 wide_74ls123 shifted_7400 sound_74ls138"), chip),
)
