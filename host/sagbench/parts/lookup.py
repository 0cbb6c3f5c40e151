"""Find a part by what is printed on it, and put it together from its file and its family's table.

    load_part("SN74LS04N").name == "74LS04"

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from ..errors import NotInFamily, PartFileError, UnknownPart
from . import aliases, left_out, markings, names, pulses, ratings, sequence, supply
from .assembly import matching
from .behaviour import Network
from .definition import PLAIN, Definition, Pinout
from .equations import Expr, Name, Op
from .model import FamilyLimits, Limit, Marking, Part, Pin, Role, Step, SupplyState
from .reader import read

LIBRARY = Path(__file__).parent / "library"
AT_REST = ("what triggers a pulse, and its length, are not tried: its file says nothing of them; "
           "try that in its circuit or with an oscilloscope")
TIMED = ("its pulse is timed coarsely, against the capacitance that the fixture itself hangs on the timing pin (some 145 pF): whether it fires and "
         "ends, and about how long that takes; long pulses and their accuracy are to be tried in its circuit or with an oscilloscope")
SHOWN = 40                               # characters of a marking that a message repeats


@dataclass(frozen=True)
class Entry:
    """One line of the catalogue."""

    function: str
    title: str
    families: tuple[str, ...]            # "" is the plain series
    pin_count: int


_FUNCTION = re.compile(r'^\s*function\s*=\s*["\']([0-9A-Z]+)["\']', re.M)


def file_names(user_dirs: Iterable[Path] = ()) -> dict[str, Path]:
    """Function -> its file.  A user's file takes the place of the library's for the function it names
    (for the one it is called after if it names none); a later folder rules over an earlier one."""
    found = dict(_library(LIBRARY.stat().st_mtime_ns))
    for path in user_files(user_dirs):
        said = _FUNCTION.search(path.read_text(encoding="utf-8-sig", errors="replace"))
        found[said[1] if said else path.stem] = path
    return found


@lru_cache(maxsize=1)
def _library(stamp: int) -> dict[str, Path]:
    """The library's own files; listed anew if the folder has changed."""
    return {path.stem: path for path in LIBRARY.glob("*.toml")}


def user_files(user_dirs: Iterable[Path | str]) -> list[Path]:
    """The part files in folders of the user's own; the alias file is none."""
    return [path for folder in map(Path, user_dirs) for path in sorted(folder.glob("*.toml")) if path.name != aliases.FILE]


def load_file(path: Path | str) -> Definition:
    """Read one part file.  Raises PartFileError with every mistake in it."""
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
        stamp = path.stat().st_mtime_ns
    except OSError as error:
        raise PartFileError((f"{path}: cannot be read ({error.strerror}); check its name",)) from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[:error.start].count(b"\n") + 1
        raise PartFileError((f"{path}:{line}:1: found bytes that are not UTF-8, expected plain text in UTF-8",)) from None
    return _read(text, str(path), stamp)


@lru_cache(maxsize=512)
def _read(text: str, path: str, stamp: int) -> Definition:
    return read(text, path, "library" if Path(path).parent == LIBRARY else path)


def catalogue(user_dirs: Iterable[Path] = ()) -> Iterator[Entry]:
    """Every function, in order of its number."""
    files = file_names(user_dirs)
    for name in sorted(files, key=names.order):
        made = load_file(files[name])
        yield Entry(made.function, made.title, tuple("" if f == PLAIN else f for f in _in_order(made.families)),
                    len(made.pinouts[0].pins))


def _in_order(names: Iterable[str]) -> list[str]:
    return sorted(names, key=ratings.ORDER.index)


def load_part(text: str, *, user_dirs: Iterable[Path | str] = ()) -> Part:
    """The part with this marking ("SN74LS04N", "7404", "ls04"), or with this house number of an alias file.

    Raises UnknownPart with the nearest names, NotInFamily with the families it existed in,
    PartFileError if its file, or an alias file of the user's, has mistakes.
    """
    folders = [Path(d) for d in user_dirs]
    files = file_names(folders)
    for path in aliases.files(folders):
        if meant := aliases.lookup(text, aliases.read(path, files)):
            return _aliased(text, meant, path.name, files)
    read_as = markings.parse_marking(text)
    known = [m for m in read_as if m.function in files]
    if not known and (meant := aliases.lookup(text, aliases.read(aliases.OWN, files))):
        return _aliased(text, meant, "from memory", files)
    return _find(text, read_as, known, files)


def _aliased(text: str, meant: str, where: str, files: Mapping[str, Path]) -> Part:
    """The part a house number stands for, with a note that says so."""
    read_as = markings.parse_marking(meant)
    part = _find(meant, read_as, [m for m in read_as if m.function in files], files)
    return replace(part, notes=(f"{text} is taken for a {meant} ({where})", *part.notes))


def _find(text: str, read_as: tuple[Marking, ...], known: list[Marking], files: Mapping[str, Path]) -> Part:
    if not known:
        if reason := left_out.why(read_as):
            raise UnknownPart(f'no part "{_short(text)}" in the library; left out on purpose: {reason}')
        near = markings.nearest_names(text, read_as, files)
        hint = f"nearest names: {', '.join(near)}" if near else "`sagbench parts` lists what there is"
        raise UnknownPart(f'no part "{_short(text)}" in the library; {hint}; `sagbench parts new` begins a file of your own', near)
    refused: NotInFamily | None = None
    for marking in known:
        try:
            return build(load_file(files[marking.function]), marking)
        except NotInFamily as error:
            refused = refused or error
    assert refused is not None
    raise refused


def _short(text: str) -> str:
    """A marking as a message shows it; no chip carries more than SHOWN characters, a pasted page does."""
    return text if len(text) <= SHOWN else text[:SHOWN - 3] + "..."


def build(definition: Definition, marking: Marking) -> Part:
    """The part a marking names, from its function's definition.  Raises NotInFamily."""
    key = marking.family or PLAIN
    entry = definition.families.get(key)
    grades = _grades(definition, key)
    if entry is None:
        existed = ", ".join(full_name(definition, f, 74) for f in _in_order(definition.families))
        raise NotInFamily(f"{definition.function} ({definition.title}) never existed as "
                          f"{names.type_name(marking.function, key, marking.grade)}; it was made as {existed}")
    definition = definition.of(key)
    grade = marking.grade if marking.grade in grades else grades[-1]
    pinout = definition.pinout(key)
    pins, limits = _rated(definition, key, grade)
    notes = [*definition.notes, *entry.get("notes", ()), *_version_note(definition, marking, entry, key, grade)]
    notes += [marking.note] if marking.note else []
    if definition.static:
        notes.append(TIMED if "pulse" in entry else AT_REST)
    if definition.origin != "library":
        replaces = ", in place of the library's own" if (LIBRARY / f"{definition.function}.toml").exists() else ""
        notes.append(f"defined by {definition.origin}{replaces}")
    return Part(definition.function, marking.family, grade, full_name(definition, key, grade),
                entry.get("title", definition.title),
                len(pins), pins, limits, _logic_test(definition, pinout),
                tuple(_supply(definition, pinout, entry)), definition.origin, tuple(notes),
                tuple(pulses.tests(definition, pinout, entry)), str(entry.get("silicon", "")))


def rated(definition: Definition, key: str) -> tuple[tuple[Pin, ...], Mapping[int, FamilyLimits]]:
    """Pins, and limits by pin number, of a function in a family that it was made in, of the upper grade: without its tests."""
    return _rated(definition.of(key), key, _grades(definition, key)[-1])


def _grades(definition: Definition, key: str) -> Sequence[int]:
    return definition.families.get(key, {}).get("grades") or ((0,) if key in names.OWN_NUMBER else (54, 74))


def _rated(definition: Definition, key: str, grade: int) -> tuple[tuple[Pin, ...], dict[int, FamilyLimits]]:
    entry, pinout = definition.families[key], definition.pinout(key)
    pins = tuple(_pin(i, name, definition, pinout) for i, name in enumerate(pinout.pins, start=1))
    limits = {pin.number: ratings.limits(key, grade, pin.role, _own(entry, pin.name, definition))
              for pin in pins if pin.role.is_input or pin.role.is_output}
    return tuple(_loaded(pin, limits, definition, entry) for pin in pins), limits


def supply_states(function: str, family: str) -> tuple[SupplyState, ...]:
    """States of supply current of a number of the library in a family (file name: "74" for plain); () if it was not made there."""
    path = file_names().get(function)
    definition = load_file(path).of(family) if path else None
    if definition is None or family not in definition.families:
        return ()
    return tuple(_supply(definition, definition.pinout(family), definition.families[family]))


def full_name(definition: Definition, key: str, grade: int) -> str:
    """The type's name: "74LS74A"; the letter is the version the limits hold for."""
    version = str(definition.families[key].get("version", ""))
    return names.type_name(definition.function, key, grade) + (version or ("B" if key == "4000B" else ""))


def _version_note(definition: Definition, marking: Marking, entry: Mapping[str, Any], key: str,
                  grade: int) -> Iterator[str]:
    version = entry.get("version")
    if version and not marking.suffix.startswith(version):
        yield (f"the limits are those of the {full_name(definition, key, grade)}; "
               f"a {names.type_name(definition.function, key, grade)} without the {version} may be rated otherwise")


def _pin(number: int, name: str, definition: Definition, pinout: Pinout) -> Pin:
    if name in pinout.supply:
        return Pin(number, name, Role.SUPPLY)
    if name in pinout.ground:
        return Pin(number, name, Role.GROUND)
    if name in pinout.analog or name not in definition.roles:
        return Pin(number, name, Role.ANALOG if name in pinout.analog else Role.UNUSED, grounded=name in pinout.grounded)
    return Pin(number, name, definition.roles[name], clock=_clock_edge(definition, name),
               schmitt=any(name in b.schmitt for b in definition.blocks))


def _loaded(pin: Pin, limits: dict[int, FamilyLimits], definition: Definition, entry: Mapping[str, Any]) -> Pin:
    """The pin with its input currents in units of the family's; whose figures they are goes into its limits, and input levels of its own."""
    if not pin.role.is_input:
        return pin
    has = limits[pin.number]
    iil, low = _current(entry, "iil_ma", pin.name, definition, has.iil)
    iih, high = _current(entry, "iih_ua", pin.name, definition, has.iih)
    source = str(entry.get("level_source", "memory"))
    vih = ratings.figure(entry["vih"], "min", source) if "vih" in entry else has.vih
    vil = ratings.figure(entry["vil"], "max", source) if "vil" in entry else has.vil
    limits[pin.number] = replace(has, vih=vih, vil=vil, iil=iil, iih=iih, schmitt_v=entry.get("schmitt_v"))
    return replace(pin, low_unit_loads=low, high_unit_loads=high)


def _current(entry: Mapping[str, Any], key: str, name: str, definition: Definition, unit: Limit) -> tuple[Limit, float]:
    """Limit at one unit load, and unit loads, of a pin's figure; its own name goes before a pattern, without one it is one unit."""
    figures: Mapping[str, Any] = entry.get(key, {})
    fits = (figure for pattern, figure in figures.items() if name in matching(pattern, definition.roles))
    if (said := figures.get(name, next(fits, None))) is None:
        return unit, 1.0
    own = ratings.figure(said, unit.kind, str(entry.get("load_source", "memory")),
                         ratings.MILLI if key == "iil_ma" else ratings.MICRO)
    loads = round(own.value / unit.value, 6)
    also = tuple(replace(other, value=other.value / loads if loads else 0.0) for other in own.also)
    return replace(unit, source=own.source, also=also), loads


def _clock_edge(definition: Definition, name: str) -> str | None:
    """The edge an input clocks on; None if it clocks nothing, or not by itself."""
    for register in definition.registers:
        clock: Expr = register.clock
        edge = register.edge
        while isinstance(clock, Op) and clock.sign == "!" and edge:
            clock, edge = clock.args[0], "falling" if edge == "rising" else "rising"
        if edge and isinstance(clock, Name) and clock.text == name:
            return edge
    return None


def _own(entry: Mapping[str, Any], name: str, definition: Definition) -> list[Mapping[str, Any]]:
    """The family entry's `output` parts that hold for a pin."""
    return [o for o in entry.get("output", ())
            if "pins" not in o or any(name in matching(p, definition.roles) for p in o["pins"])]


@lru_cache(maxsize=128)
def _logic_test(definition: Definition, pinout: Pinout) -> tuple[Step, ...]:
    """The same for all families with this pinout."""
    return sequence.steps(definition, _network(definition), pinout.pins)


@lru_cache(maxsize=512)
def _state(definition: Definition, pinout: Pinout, key: str) -> SupplyState | None:
    """How to reach a state of supply current; None if the part cannot be in it."""
    return next((state for _, state in supply.states(definition, _network(definition), pinout.pins, [key])), None)


def network_of(part: Part) -> Network:
    """What a part does, from its own file or the library's: one for all families in which the number has the same logic."""
    path = file_names()[part.function] if part.origin == "library" else part.origin
    return _network(load_file(path).of(part.family or PLAIN))


@lru_cache(maxsize=128)
def _network(definition: Definition) -> Network:
    return Network(definition)


def _supply(definition: Definition, pinout: Pinout, entry: Mapping[str, Any]) -> Iterator[SupplyState]:
    unit = ratings.MILLI if "icc_ma" in entry else ratings.MICRO
    figures = entry.get("icc_ma", entry.get("icc_ua", {}))
    source = str(entry.get("icc_source", "memory"))
    reached = [key for key in ("high", "low", "off") if _state(definition, pinout, key)] if not figures else []
    for key in figures or reached or ("quiescent",):
        if (state := _state(definition, pinout, key)) is None:
            continue
        if (figure := figures.get(key)) is None:
            yield state
            continue
        typical = ratings.as_table(figure, "max").get("typ")
        yield replace(state, limit=ratings.figure(figure, "max", source, unit), typical=None if typical is None else typical * unit)
