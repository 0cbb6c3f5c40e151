# SPDX-License-Identifier: MIT
"""The tables of what equations do not tell fit the library, and say whose figures they are."""
import tomllib

import pytest

from sagbench.parts import Role, load_file
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.ratings import ORDER
from sagbench.replace import known

SPEED = tomllib.loads((LIBRARY.parents[1] / "replace" / "speed.toml").read_text())
KNOWN = tomllib.loads((LIBRARY.parents[1] / "replace" / "known.toml").read_text())


@pytest.mark.parametrize("family", ORDER)
def test_every_family_has_a_speed_with_its_source(family):
    made = known.speed(family)
    assert 1e-9 < made.gate < 200e-9 and 1e-9 < made.edge < 200e-9
    assert {made.gate_source, made.edge_source} <= {"memory", *SPEED["sources"]}


def test_delays_are_the_published_ones():
    """Computer History Wiki, 74 series, typical delay in ns; Book 4, table 16.1, HC."""
    wiki = {"74": 10, "H": 6, "L": 33, "S": 3, "LS": 10, "AS": 2, "ALS": 4}
    assert {family: round(known.speed(family).gate * 1e9) for family in wiki} == wiki
    assert known.speed("HC").gate == pytest.approx(8e-9)


def test_off_volts_are_those_of_open_collectors():
    for function in set(KNOWN["off_volts"]) - {"STANDARD", "source"}:
        made = load_file(LIBRARY / f"{function}.toml")
        assert Role.OPEN_COLLECTOR in made.roles.values(), function
        assert known.off_volts(function) > known.off_volts("05")


def test_near_parts_and_switches_are_in_the_library():
    for entry in KNOWN["near"]:
        assert load_file(LIBRARY / f"{entry['one']}.toml").static and load_file(LIBRARY / f"{entry['other']}.toml").static
        assert entry["text"] and entry["source"]
    for function in KNOWN["passes"]["functions"]:
        assert "analog" in load_file(LIBRARY / f"{function}.toml").title
