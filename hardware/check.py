"""Is the wiring sane?  Every mistake is named with its line.

    python -m hardware.check [FILE ...]    # exit 1 if there are mistakes; without FILE: the full and the reduced build

Of a reduced build, which says what it leaves out of another file, the whole is checked; a mistake in the whole is named by
its line in the other file.

First whether every value is there (`shape`), then what is wired to what (`structure`), then what the safety rules rely on
(`safety`), then currents (`budget`), each only if those before found nothing.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import argparse
import os
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hardware import check_budget, check_safety, check_shape, derive_c, leave_out
from hardware.places import SUPPLY, Part, Places, Terminal, fixture, parts, terminals
from hardware.wiring import PATH, REDUCED, WiringError, load, parse

Mistake = tuple[int, str]      # line, sentence
HELP = """What is looked at, each only if those before are in order: that every value is there and of the right kind; what is wired to
what (a pin or net used twice, a net with one end, a position without lines); what the safety rules rely on (switches off at
reset, load points, trip); currents (pins, port groups, multiplexers, load points at their limits).

A mistake is told as FILE:LINE: what is wrong; what to do.
Exit code: 0 in order, 1 mistakes, 2 a file cannot be read.

A board of your own: copy hardware/wiring.toml, or write what you leave out of it (hardware/reduced/wiring.toml is an example)."""

NEEDS = {                      # values without which a part cannot be bought or modelled
    "resistor": ("ohm", "tolerance"), "capacitor": ("nf", "tolerance"), "pnp": ("type",), "npn": ("type",),
    "diode": ("type",), "lm4040": ("volts", "tolerance"), "hc4051": ("common", "channels"),
    "hc595": ("chain", "outputs"), "mcp6004": (), "button": (), "led": (), "zif_socket": ("positions", "net"),
}
PINS = {
    "resistor": "1 2", "capacitor": "1 2", "pnp": "E B C", "npn": "E B C", "diode": "A K", "led": "A K",
    "lm4040": "K A", "button": "1 2", "zif_socket": "", "hc4051": "A B C INH VCC VEE GND",
    "hc595": "SER SRCLK RCLK OE SRCLR QH2 VCC GND", "mcp6004": "AP AN AO BP BN BO CP CN CO DP DN DO VDD VSS",
}
SPREAD = ("hc4051", "hc595", "mcp6004", "pnp", "npn", "lm4040")   # kinds whose specimens differ: need [kind.*]
ALONE = ("RXD", "TXD")         # their other end is the board's USB chip
# Nets that the firmware works with in every build (which multiplexers there are is the build's), and parts that currents are
# reckoned from.
FIRMWARE = [net for net in derive_c.LINES if not net.startswith("INH_")]
ROLES = ("load selector", "shunt", "sense gain, input", "sense gain, output", "trip level, upper", "trip level, lower", "medium drive")


def _nets(ends: list[Terminal]) -> Iterator[Mistake]:
    by_net: dict[str, list[Terminal]] = {}
    for end in ends:
        by_net.setdefault(end.net, []).append(end)
    for net, there in by_net.items():
        if len(there) == 1 and net not in ALONE:
            yield there[0].line, f"net {net} has only one end, {there[0].what}; correct its name or wire the other end"
        drivers = [end for end in there if end.drives]
        if len(drivers) > 1:
            at = next(d for d in reversed(drivers) if d.what != SUPPLY)
            yield at.line, (f"net {net} is driven by {' and '.join(d.what for d in drivers)}; "
                                     "let only one of them drive it")


def _components(raw: dict[str, Any], components: list[Part]) -> Iterator[Mistake]:
    seen: dict[str, int] = {raw["controller"]["ref"]: 0}
    for part in components:
        if part.ref in seen:
            yield part.line, f"designator {part.ref} is used twice (before: line {seen[part.ref]}); give it another number"
        seen.setdefault(part.ref, part.line)
        if part.kind not in NEEDS:
            yield part.line, f"{part.ref} is of kind {part.kind}, which is none of {', '.join(NEEDS)}"
            continue
        for value in NEEDS[part.kind]:
            if value not in part.raw:
                yield part.line, f"{part.ref} has no `{value}`; write it"
        if missing := [pin for pin in PINS[part.kind].split() if not part.pin(pin)]:
            yield part.line, f"{part.ref} has no net at pin {', '.join(missing)}; write it into `pins` (\"NC\" if it has none)"
        if extra := set(part.raw.get("pins", {})) - set(PINS[part.kind].split()):
            yield part.line, f"{part.ref} is of kind {part.kind}, which has no pin {', '.join(sorted(extra))}"
        for listed in ("channels", "outputs"):
            if listed in part.raw and len(part.raw[listed]) != 8:
                yield part.line, f"{part.ref} has {len(part.raw[listed])} {listed}, not 8; fill with \"NC\""
        if part.kind in SPREAD and part.kind not in raw.get("kind", {}):
            yield part.line, f"{part.ref}: there is no [kind.{part.kind}]; say what a specimen may be like"


def _controller(raw: dict[str, Any], components: list[Part], places: Places) -> Iterator[Mistake]:
    ports: dict[str, str] = {}
    nets: dict[str, str] = {}
    for name, wire in raw["controller"]["wires"].items():
        line = places.key("controller.wires", name)
        if wire["port"] in ports:
            yield line, f"port pin {wire['port']} is both {ports[wire['port']]} and {name}; see the board's pin table"
        ports[wire["port"]] = name
        if wire["net"] and wire["net"] in nets:
            yield line, f"net {wire['net']} is at two controller pins, {nets[wire['net']]} and {name}; leave one"
        nets[wire["net"]] = name
        groups = [g["name"] for g in raw["port_group"] if wire["port"] in g["ports"]]
        if len(groups) != 1:
            yield line, f"port pin {wire['port']} is in {len(groups)} port groups; it must be in one"
    inhibits = {part.pin("INH") for part in components if part.kind == "hc4051"} - {"GND"}
    for net in sorted({*FIRMWARE, *inhibits, *raw["adc"]["channels"]} - set(nets)):
        yield places.entry("controller.wires"), f"net {net} is at no controller pin; wire it"
    for role in ROLES:
        if all(part.role != role for part in components):
            yield places.entry("part"), f"no part has the role \"{role}\"; give it to the one that is"
    strap = raw["controller"]["strap"]
    if raw["controller"]["wires"].get(strap["pin"], {}).get("net", "?") or strap["to"] not in ("open", "GND"):
        yield places.key("controller", "strap"), (f"the strap is {strap['pin']} to {strap['to']}; it is a controller pin with no "
                                                  "net of its own, to \"open\" or \"GND\"")
    by_net = {wire["net"]: wire["port"] for wire in raw["controller"]["wires"].values()}
    for net, channel in raw["adc"]["channels"].items():
        if by_net.get(net) != f"P{'FK'[channel // 8]}{channel % 8}":
            yield places.key("adc", "channels"), f"converter channel {channel} is not where net {net} is wired; correct one"


def _positions(raw: dict[str, Any], components: list[Part], places: Places) -> Iterator[Mistake]:
    line = places.entry("socket")
    wired = {wire["net"] for wire in raw["controller"]["wires"].values()}
    resistors = Counter(frozenset((p.pin("1"), p.pin("2"))) for p in components if p.kind == "resistor")
    channels = Counter(net for p in components if p.kind == "hc4051" and p.raw.get("common") == "K"
                       for net in p.raw["channels"])
    for k in fixture(raw).positions:
        for letter in "SM":
            if f"{letter}{k}" not in wired:
                yield line, f"position {k} has no {letter} line at the controller; wire {letter}{k}"
            elif resistors[frozenset((f"{letter}{k}", f"Z{k}"))] != 1:
                yield line, (f"position {k} has {resistors[frozenset((f'{letter}{k}', f'Z{k}'))]} resistors from "
                             f"{letter}{k} to Z{k}; it must have one")
        if channels[f"Z{k}"] != 1:
            yield line, f"position {k} has {channels[f'Z{k}']} sense channels to K; it must have one"


def _chain(components: list[Part]) -> Iterator[Mistake]:
    chain = sorted((p for p in components if p.kind == "hc595"), key=lambda p: p.raw["chain"])
    before = "SER_OUT"
    for index, part in enumerate(chain):
        if part.raw["chain"] != index + 1:
            yield part.line, f"{part.ref} has chain = {part.raw['chain']} where {index + 1} is due; number them from 1"
        if part.pin("SER") != before:
            yield part.line, f"{part.ref}.SER is on {part.pin('SER')}, but the chain brings {before} there; correct the order"
        before = part.pin("QH2")
        for pin, net in (("SRCLK", "SER_CLK"), ("RCLK", "LATCH")):
            if part.pin(pin) != net:
                yield part.line, f"{part.ref}.{pin} is on {part.pin(pin)}; all registers share {net}"
    if chain and before != "SER_BACK":
        yield chain[-1].line, f"{chain[-1].ref}.QH2 is on {before}; the last one returns to SER_BACK"


def structure(raw: dict[str, Any], components: list[Part], places: Places) -> list[Mistake]:
    """What is wired to what."""
    found = list(_components(raw, components))
    if found:
        return found                                   # the rest needs whole parts
    return [*_controller(raw, components, places), *_nets(terminals(raw, components, places)),
            *_positions(raw, components, places), *_chain(components)]


def check(text: str) -> list[Mistake]:
    """All mistakes in the text of a full wiring file, by line."""
    try:
        raw = parse(text)
    except tomllib.TOMLDecodeError as wrong:
        return [_toml(wrong)]
    places = Places(text)
    return sorted(set(check_shape.shape(raw, places))) or _whole(raw, places)


def _toml(wrong: tomllib.TOMLDecodeError) -> Mistake:
    return int(str(wrong).rpartition("line ")[2].split(",")[0]) if "line " in str(wrong) else 1, f"{wrong}; mend the TOML"


def _whole(raw: dict[str, Any], places: Places) -> list[Mistake]:
    try:
        components = parts(raw, places)
        for room in (structure, check_safety.safety, check_budget.budget):
            if found := room(raw, components, places):
                return sorted(set(found))
    except WiringError as wrong:
        return [(places.entry("part"), str(wrong))]
    except KeyError as wrong:
        return [(1, f"there is no {wrong}; the file needs it")]
    return []


def check_file(path: Path) -> list[tuple[Path, int, str]]:
    """All mistakes of a wiring file, a reduced build among them, each with the file that its line is in.  Raises OSError."""
    text = path.read_text()
    try:
        own = parse(text)
    except tomllib.TOMLDecodeError as wrong:
        return [(path, *_toml(wrong))]
    if "based_on" not in own:
        return [(path, *mistake) for mistake in check(text)]
    under = Path(os.path.normpath(path.parent / own["based_on"]))
    places = Places(text)
    try:
        below = under.read_text()
    except OSError as wrong:
        return [(path, places.key("", "based_on"), f"{under}: {wrong.strerror}; name the wiring file that it leaves parts out of")]
    if found := check(below):
        return [(under, *mistake) for mistake in found]
    try:
        base, whole = parse(below), load(path)
        lines = Places(below)
        lines.keep("part", leave_out.kept(base, own))
        raw = {**leave_out.compose(base, own), "controller": whole["controller"]}
    except WiringError as wrong:
        return [(path, places.entry("leave_out"), str(wrong))]
    outputs = {part["ref"]: part["outputs"] for part in whole["part"] if "outputs" in part}
    raw["part"] = [{**entry, "outputs": outputs[entry["ref"]]} if "outputs" in entry else entry for entry in raw["part"]]
    return [(under, line, f"in {whole['fixture']['name']}, which leaves parts out: {sentence}")
            for line, sentence in _whole(raw, lines)]


def main(arguments: list[str]) -> int:
    """Print mistakes of the files named, or of the full and the reduced build."""
    parser = argparse.ArgumentParser(prog="python -m hardware.check", formatter_class=argparse.RawDescriptionHelpFormatter,
                                     description="Is a wiring file sane?  Every mistake is named with its line.", epilog=HELP)
    parser.add_argument("files", nargs="*", metavar="FILE", type=Path, help="a wiring file; without any: the full and the reduced build")
    wrong = 0
    for path in parser.parse_args(arguments).files or [PATH, REDUCED]:
        try:
            mistakes = check_file(path)
        except (OSError, UnicodeDecodeError) as failed:
            where, why = str(path), failed.strerror if isinstance(failed, OSError) else "is not text in UTF-8"
            if isinstance(failed, UnicodeDecodeError):
                where += f":{bytes(failed.object[:failed.start]).count(10) + 1}"
            print(f"{where}: {why}; name a wiring file", file=sys.stderr)
            return 2
        for where, line, sentence in mistakes:
            print(f"{where}:{line}: {sentence}", file=sys.stderr)
        wrong |= bool(mistakes)
    return wrong


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
