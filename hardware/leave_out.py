"""A build that is another one without some of its parts: hardware/reduced/wiring.toml.

    whole = compose(tomllib.loads(full), tomllib.loads(reduced))

The result is a wiring file's dictionary like any other, so whatever reads wiring files reads reduced builds too.
`[socket] absent` lists the positions that are not there; positions keep their numbers.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

from hardware.errors import WiringError

OWN = ("based_on", "leave_out")          # keys that only say how to compose


def _overlay(under: dict[str, Any], over: dict[str, Any]) -> None:
    for key, value in over.items():
        if isinstance(value, dict) and isinstance(under.get(key), dict):
            _overlay(under[key], value)
        else:
            under[key] = copy.deepcopy(value)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _strings(inner)


def kept(base: dict[str, Any], own: dict[str, Any]) -> list[int]:
    """Indexes of the base's [[part]] entries that the reduced build has too."""
    gone = set(own["leave_out"].get("parts", []))
    return [index for index, entry in enumerate(base["part"]) if entry["ref"] not in gone]


def compose(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """The reduced build, spelt like a full wiring file.

    Raises WiringError if it leaves out a part or a position that the base does not have.
    """
    out = copy.deepcopy(base)
    _overlay(out, {key: value for key, value in own.items() if key not in OWN})
    absent, parts = own["leave_out"].get("positions", []), own["leave_out"].get("parts", [])
    if strange := sorted(set(parts) - {entry["ref"] for entry in base["part"]}):
        raise WiringError(f"[leave_out] parts: {', '.join(strange)} is no entry of the wiring it is based on; correct its name")
    if strange := [k for k in absent if not 1 <= k <= base["socket"]["positions"]]:
        raise WiringError(f"[leave_out] positions: there is no position {strange[0]}; "
                          f"write some of 1 to {base['socket']['positions']}")
    if taken := sorted(set(absent) & {*out["power"]["supply_positions"], *out["power"]["ground_positions"]}):
        raise WiringError(f"[power] has a switch at position {taken[0]}, which [leave_out] leaves out; let one of them go")
    out["part"] = [out["part"][index] for index in kept(base, own)]
    out["socket"]["absent"] = sorted(absent)
    return out


def unwire(fixture: dict[str, Any], full: dict[str, Any]) -> None:
    """Clear controller wires and register outputs whose parts are all gone.  Both with `each` spelt out.

    What has ends in the full build that none of them has left here; a net that is misspelt stays, and is found by the check.
    """
    here, there = _ends(fixture), _ends(full)
    gone = there - here
    for wire in fixture["controller"]["wires"].values():
        if wire["net"] in gone:
            wire["net"] = ""
    for part in fixture["part"]:
        if "outputs" in part:
            part["outputs"] = ["NC" if net in gone else net for net in part["outputs"]]


def _ends(fixture: dict[str, Any]) -> set[str]:
    """Nets on which there is a part's pin, channel or common; outputs and controller wires are the other end."""
    nets = set()
    for part in fixture["part"]:
        nets.update(_strings([part.get("pins", {}), part.get("channels", []), part.get("common", [])]))
    return nets
