"""What the parts of a virtual fixture really are, by the names of a calibration's components.

Only what the virtual fixture's README offers to tests is used: `truth.drawn`.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from virtual_fixture.inproc import Fixture

from hardware.wiring import load


def truth(seed: int) -> Mapping[str, float]:
    """What a calibration is to find, by its components' names: ohms and volts, from what the specimen was drawn as."""
    with Fixture(seed=seed) as fixture:
        drawn = fixture.truth.drawn
    wiring = load()
    pins = {wire["net"]: wire["port"] for wire in wiring["controller"]["wires"].values()}
    out = {"vref": drawn["U9.volts"]}
    for part in wiring["part"]:
        line = re.fullmatch(r"([SM])(\d+)", part.get("pins", {}).get("1", ""))
        if part["kind"] == "resistor" and line:
            role = part["role"].replace(" ", "_")
            for side in ("high", "low"):
                pin = drawn[f"{pins[line[0]]}.driver_{side}_ohm"]
                out[f"{role}[{line[2]}].{side}"] = drawn[f"{part['ref']}.ohm"] + pin
    return out
