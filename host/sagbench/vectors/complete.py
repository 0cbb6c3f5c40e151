"""Make a part's logic test complete: add what it misses of the faults at its pins and inside.

The library's additions are found once, by `derive`, and kept in additions.json; a
definition that is not there as it stands (a user's own, or one just edited) is searched when it is loaded.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from hashlib import blake2s
from pathlib import Path
from typing import Any

from sagbench.parts.behaviour import train
from sagbench.parts.definition import Definition, Pinout

Levels = Mapping[str, bool | None]

ADDITIONS = Path(__file__).parent / "additions.json"
NETLISTS = Path(__file__).parent / "netlists"
MOST_PULSES = 2000                       # in trains: with more a part is a long counter
_SIGNS: dict[str, bool | None] = {"0": False, "1": True, "z": None}


def completed(definition: Definition, pinout: Pinout, base: Sequence[Levels]) -> list[Levels]:
    """`base` (levels by pin name, from power-on) and the steps that make it complete for this pinout."""
    kept = _additions().get(key(definition, pinout), {})
    if kept.get("of") == digest(definition, pinout, base):
        return [*base, *(unwritten(step) for step in kept["steps"])]
    return [*base, *find(definition, pinout, base)]


def find(definition: Definition, pinout: Pinout, base: Sequence[Levels]) -> list[Levels]:
    """The steps that are missing, by search.  Takes some tenths of a second."""
    if not is_searched(definition, base):
        return []
    # Only here: loading a part of the library must not wait for these.
    from sagbench.vectors.compile import compile_part
    from sagbench.vectors.coverage import checked, simulate
    from sagbench.vectors.pinfaults import universe
    from sagbench.vectors.proof import NOT_FOUND, why_missed
    from sagbench.vectors.sequence import extend

    part = compile_part(definition)
    begun = [*base, *netlist_steps(definition, base)]
    missed = simulate(part, universe(part, pinout), checked(part, begun)).missed()
    hopeful = [fault for fault, why in why_missed(definition, missed).items() if why == NOT_FOUND]
    whole = extend(definition, part, hopeful, begun)
    return whole[len(base):]


def is_searched(definition: Definition, steps: Iterable[Levels]) -> bool:
    """False for a part of which only the state at rest can be tried, for a long counter, which its program counts through by
    thousands of pulses, and for a memory, which gets a march: a search would take minutes."""
    pulses = sum(train(name)[1] for step in steps for name in step if "^" in name)
    return not (definition.static or definition.march or pulses > MOST_PULSES)


def netlist_steps(definition: Definition, base: Sequence[Levels]) -> list[Levels]:
    """Vectors for the gates inside, where their diagram is known, that `base` does not test."""
    path = NETLISTS / f"{definition.function}.bench"
    if not path.exists() or definition.origin != "library":
        return []
    from sagbench.vectors.generate import missing
    from sagbench.vectors.netlist import read_bench

    netlist = read_bench(path.read_text(encoding="utf-8"), path.name)
    now: dict[str, bool | None] = {}
    vectors = []
    for step in base:
        now.update(step)
        vectors.append(sum(1 << place for place, net in enumerate(netlist.inputs) if now[net]))
    added: list[Levels] = []
    for vector in missing(netlist, vectors):
        wanted = {net: bool(vector >> place & 1) for place, net in enumerate(netlist.inputs)}
        added.append({net: level for net, level in wanted.items() if now[net] is not level})
        now.update(wanted)
    return added


def key(definition: Definition, pinout: Pinout) -> str:
    """Name of a pinout of a function: "04", "54 1" for the second, "54 1 H" if another logic begins with family H."""
    place = definition.pinouts.index(pinout)
    return " ".join(filter(None, (definition.function, str(place) if place else "", definition.variant)))


def digest(definition: Definition, pinout: Pinout, base: Sequence[Levels]) -> str:
    """Changes whenever pins, equations or the given part of the test do."""
    said = repr((pinout.pins, sorted(definition.roles.items()), definition.assigns, definition.registers,
                 [sorted(step.items()) for step in base]))
    return blake2s(said.encode(), digest_size=8).hexdigest()


def written(step: Levels) -> str:
    """A step as text: "1A=1 1B=0 D1=z"."""
    sign = {level: text for text, level in _SIGNS.items()}
    return " ".join(f"{name}={sign[level]}" for name, level in step.items())


def unwritten(text: str) -> Levels:
    """The step that `written` wrote."""
    return {name: _SIGNS[sign] for name, _, sign in (item.partition("=") for item in text.split())}


@cache
def _additions() -> dict[str, Any]:
    if not ADDITIONS.exists():
        return {}
    found: dict[str, Any] = json.loads(ADDITIONS.read_text(encoding="utf-8"))
    return found
