"""Place and route anew: what a designer runs after changing the wiring, a footprint or the outline.

    python3 -m hardware.board.tools.layout place WORK --seed 1     # WORK/places.txt: parts and exchanged pins
    python3 -m hardware.board.tools.layout place WORK --mend       # the same, beginning with placement.toml
    python3 -m hardware.board.tools.layout adopt WORK              # -> placement.toml, and wiring.toml's lines
    python3 -m hardware.board.tools.layout route --seed 1          # placement.toml -> routes.txt

The results are committed; building and checking the board needs neither.  The committed placement came from one search,
three mendings and one part moved by hand (R404, 0.4 mm), the routes from seed 1: placing is not done again by one command.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tomllib
from pathlib import Path

from hardware.board.build_files import OUTLINE, PLACEMENT, ROUTES
from hardware.board.design import HERE, Component, components
from hardware.board.tools import permute, placing, routing, tidy

TOOLS = Path(__file__).parent


def program(name: str) -> str:
    """Compile place*.c or route*.c into build/board; the path of the program."""
    target = HERE.parents[1] / "build/board" / name
    target.parent.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        ["gcc", "-O2", "-Wall", "-Wextra", "-std=gnu11", "-o", str(target), *map(str, sorted(TOOLS.glob(f"{name}*.c"))), "-lm"], check=True
    )
    return str(target)


def fixed_places(parts: list[Component]) -> dict[str, routing.Place]:
    """What may not move: headers, and outline.toml's [fixed]."""
    out = {p.ref: p.fixed for p in parts if p.fixed}
    return out | {ref: tuple(place) for ref, place in tomllib.loads(OUTLINE.read_text())["fixed"].items()}


def place(work: Path, seed: int, moves: float, mend: bool) -> None:
    """Search for places, from anywhere or mending what placement.toml has; the answer goes to WORK/places.txt."""
    parts = components()
    start = {ref: tuple(at) for ref, at in tomllib.loads(PLACEMENT.read_text()).items()} if mend else None
    text = placing.placer_input(parts, fixed_places(parts), tomllib.loads(OUTLINE.read_text()), seed, start)
    line = [program("place"), str(seed), f"{moves:.0f}", *(("4", "30") if mend else ("60", "0.5"))]
    done = subprocess.run(line, input=text, text=True, stdout=subprocess.PIPE, check=True)
    work.mkdir(parents=True, exist_ok=True)
    (work / "places.txt").write_text(done.stdout)


def adopt(work: Path) -> None:
    """Take a placement over: placement.toml, and the exchanged pins into wiring.toml."""
    places, pins = placing.answer((work / "places.txt").read_text(), components())
    lines = [f"{ref} = [{x:.6g}, {y:.6g}, {degrees:.1f}]" for ref, (x, y, degrees) in places.items()]
    head = "# Where each part stands: x, y of its first pad in mm, degrees. Written by tools/layout.py."
    PLACEMENT.write_text("\n".join([head, *lines]) + "\n")
    permute.rewrite(HERE.parent / "wiring.toml", pins)


def route(seed: int, rounds: int) -> None:
    """Search for tracks; exit 1 if nets are still in conflict after so many rounds."""
    parts = components()
    outline = tomllib.loads(OUTLINE.read_text())
    places = {ref: tuple(place) for ref, place in tomllib.loads(PLACEMENT.read_text()).items()}
    text = routing.router_input(parts, places, outline)
    done = subprocess.run([program("route"), str(rounds), str(seed)], input=text, text=True, stdout=subprocess.PIPE, check=False)
    if done.returncode == 1:
        sys.exit(f"route: nets are still in conflict after {rounds} rounds, or have no way; try another seed or placement")
    done.check_returncode()
    found = routing.tracks(done.stdout, parts, outline["corners"])
    ROUTES.write_text(tidy.text(tidy.widen(found, parts, places, outline)))


def main() -> None:
    """The three verbs."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    verbs = words.add_subparsers(dest="verb", required=True)
    for verb in ("place", "adopt"):
        one = verbs.add_parser(verb)
        one.add_argument("work", type=Path)
        if verb == "place":
            one.add_argument("--seed", type=int, default=1)
            one.add_argument("--moves", type=float, default=6e7)
            one.add_argument("--mend", action="store_true", help="begin with placement.toml")
    one = verbs.add_parser("route")
    one.add_argument("--seed", type=int, default=1)
    one.add_argument("--rounds", type=int, default=400)
    told = words.parse_args()
    if told.verb == "place":
        place(told.work, told.seed, told.moves, told.mend)
    elif told.verb == "adopt":
        adopt(told.work)
    else:
        route(told.seed, told.rounds)


if __name__ == "__main__":
    main()
