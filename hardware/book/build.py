"""Write what the build book takes from the board and the wiring: pictures, and the marked blocks of hardware/BUILD.md.

    python -m hardware.book.build            # write
    python -m hardware.book.build --check    # exit 1, naming each stale file

A block stands between `<!-- made: NAME -->` and `<!-- /made -->`; what is outside is written by hand.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable

from hardware.board.design import components
from hardware.book import readings
from hardware.book.picture import step_picture
from hardware.book.steps import rows, steps
from hardware.parts_list import fitted, lines, total_usd
from hardware.wiring import Fixture, load
from protocol import emit

PAGE = "hardware/BUILD.md"
BLOCK = re.compile(r"(<!-- made: ([\w-]+) -->\n).*?(<!-- /made -->)", re.DOTALL)


def table(head: Iterable[str], lines_: Iterable[Iterable[str]]) -> str:
    """A Markdown table."""
    head = list(head)
    return "\n".join(["| " + " | ".join(head) + " |", "|" + "---|" * len(head), *("| " + " | ".join(line) + " |" for line in lines_)]) + "\n"


def _solder(fixture: Fixture) -> str:
    out = []
    for number, step in enumerate(steps(fixture), 1):
        out.append(f"### {number}. {step.title}\n\n{step.say}\n")
        out.append(table(("", "value", "how it is marked", "goes to"), ((str(n), *rest) for n, *rest in rows(step))))
        out.append(f"![{step.title}: where they go](book/{number:02}-{step.name}.svg)\n")
    return "\n".join(out)


def _parts(fixture: Fixture) -> str:
    del fixture
    listed = lines()
    return (f"[parts-list.csv](parts-list.csv) has {fitted(listed)} pieces to solder, with what may take their place and what must not. "
            f"Together about {total_usd(listed):.0f} US dollars without the controller board, an estimate.\n")


PLACE = re.compile(r"(pin|contact) (\d+) of (\w+)")


def _together(places: list[str]) -> str:
    """`pins 1, 2 and 7 of U6` for several of one part, else a list."""
    found = [PLACE.fullmatch(place) for place in places]
    first = found[0]
    if len(places) < 2 or not first or not all(m and m[3] == first[3] for m in found):
        return ", ".join(places)
    return f"each of {first[1]}s {numbers(int(m[2]) for m in found if m)} of {first[3]}"


def numbers(values: Iterable[int]) -> str:
    """`1, 2, 4-7`."""
    runs: list[list[int]] = []
    for value in sorted(values):
        if runs and value == runs[-1][-1] + 1:
            runs[-1].append(value)
        else:
            runs.append([value])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


def _single(fixture: Fixture) -> str:
    points = readings.Points(fixture)
    body = []
    for entry, found in readings.ohms(fixture):
        if "each" in entry and entry["each"] == "positions":
            continue
        reds, blacks = (list(dict.fromkeys(points.of(pair[side]) for pair in found)) for side in (0, 1))
        ohm = found[0][2]
        shown = "over range" if ohm.nominal == float("inf") else f"{readings.written(ohm.nominal)}: {readings.span(ohm)}"
        body.append((_together(reds), _together(blacks), shown, entry["why"]))
    return table(("red lead", "black lead", "ohms", "tells"), body)


def _contacts(fixture: Fixture) -> str:
    points = readings.Points(fixture)
    found = {entry["red"]: {int(red[1:]): (red, ohm) for red, _, ohm in pairs} for entry, pairs in readings.ohms(fixture)
             if entry.get("each") == "positions" and entry["black"] == "Z{k}"}
    strong, medium = found["S{k}"], found["M{k}"]
    half = len(fixture.positions) // 2
    sides = fixture.positions[:half], list(reversed(fixture.positions[half:]))
    body = [[str(left), points.of(f"S{left}"), points.of(f"M{left}"), str(right), points.of(f"S{right}"), points.of(f"M{right}")]
            for left, right in zip(*sides, strict=True)]
    return (f"From each contact of the test socket to its S pin {readings.span(strong[1][1])} ohm, to its M pin {readings.span(medium[1][1])} ohm; "
            "to its neighbour over range.\n\n" + table(("contact", "S pin", "M pin", "contact", "S pin", "M pin"), body))


def _volts(fixture: Fixture, chips: bool) -> str:
    body = []
    for stage, one in readings.volts(fixture):
        if (stage == "chips in") == chips:
            where = one.red + (" (reset held)" if "reset" in stage else "")
            body.append((where, f"{readings.volt_span(one)} V", one.why))
    return table(("red lead (black at GND)", "must show", "tells"), body)


def _rails(fixture: Fixture) -> str:
    """Supply pins of each chip's socket."""
    body = []
    for part in components(fixture):
        if part.name.startswith("DIP-"):
            five, ground = (", ".join(pad for pad, net in part.pads.items() if net == rail) for rail in (fixture["supply"]["net"], "GND"))
            body.append((part.ref, part.value, five, ground))
    return table(("socket", "chip that goes in later", "5 V at pin", "0 V at pin"), body)


BLOCKS: dict[str, Callable[[Fixture], str]] = {
    "parts": _parts,
    "solder": _solder,
    "ohms": _single,
    "contacts": _contacts,
    "rails": _rails,
    "volts": lambda fixture: _volts(fixture, False),
    "volts-chips": lambda fixture: _volts(fixture, True),
}


def page(text: str, fixture: Fixture) -> str:
    """BUILD.md with its blocks made anew.  ValueError if it has a block that nobody makes, or lacks one."""
    names = [match[2] for match in BLOCK.finditer(text)]
    if sorted(names) != sorted(BLOCKS):
        raise ValueError(f"{PAGE} has the blocks {', '.join(names)}; it must have {', '.join(BLOCKS)}, each once")
    return BLOCK.sub(lambda match: f"{match[1]}\n{BLOCKS[match[2]](fixture)}\n{match[3]}", text)


def files() -> dict[str, str]:
    """Every derived file: name from the checkout's root -> text."""
    fixture, made = load(), steps()
    out = {f"hardware/book/{number:02}-{step.name}.svg": step_picture(step, made[: number - 1], number)
           for number, step in enumerate(made, 1)}
    return {**out, PAGE: page((emit.ROOT / PAGE).read_text(), fixture)}


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "hardware.book.build"))
