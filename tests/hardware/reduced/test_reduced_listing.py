"""A builder who follows WIRING.md to the letter gets the wiring: its lines are read back and joined up.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from hardware.reduced import build, stages
from hardware.wiring import REDUCED, Fixture, WiringError, load
from protocol import emit

FIXTURE = load(REDUCED)
FOLDER = REDUCED.parent
RAIL = {"5 V rail": "V5", "ground rail": "GND"}
STEP = re.compile(r"^- \[ \] (?:to the (?P<rail>[^:]+)|(?P<net>\w+)): (?P<ends>.+)$", re.MULTILINE)


def _joined(text: str) -> list[set[str]]:
    """Groups of ends that the list's lines join, rails among them."""
    groups: list[set[str]] = []
    for step in STEP.finditer(text):
        rail = {RAIL[step["rail"]]} if step["rail"] else set()
        new = set(re.split(r", | - ", step["ends"])) | rail
        for group in [g for g in groups if g & new]:
            new |= group
            groups.remove(group)
        groups.append(new)
    return groups


def _wanted(fixture: Fixture) -> list[set[str]]:
    """The same from the wiring file: nets with more than one end."""
    nets: dict[str, set[str]] = {"V5": {"V5", "A1.5V"}, "GND": {"GND", "A1.GND", f"A1.{fixture['controller']['strap']['pin']}"}}
    for pin, wire in fixture["controller"]["wires"].items():
        if wire["net"]:
            nets.setdefault(wire["net"], set()).add(f"A1.{pin}")
    for part in stages.parts_of(fixture):
        for pad, net in part.pads.items():
            if net:
                nets.setdefault(net, set()).add(stages.end(part, pad))
    return [ends for net, ends in nets.items() if len(ends) > 1]


def test_following_the_list_gives_the_wiring() -> None:
    joined = _joined((FOLDER / "WIRING.md").read_text())
    lonely = {"A1.D0", "A1.D1"}                                # the controller board's own USB chip is on these
    wanted = [ends for ends in _wanted(FIXTURE) if not ends <= lonely]
    assert sorted(map(sorted, joined)) == sorted(map(sorted, wanted))


def test_a_chain_goes_on_where_it_ended() -> None:
    seen: dict[str, list[str]] = {}
    for step in STEP.finditer((FOLDER / "WIRING.md").read_text()):
        if step["net"]:
            ends = step["ends"].split(" - ")
            if step["net"] in seen:
                assert ends[0] == seen[step["net"]][-1]
            seen.setdefault(step["net"], []).extend(ends)
    assert len(seen) > 80


def test_the_strap_is_in_the_list() -> None:
    last = (FOLDER / "WIRING.md").read_text().rpartition("\n## ")[2]
    assert re.search(r"to the ground rail: .*A1\.D49", last)


def test_all_that_is_made_from_the_wiring_is_current() -> None:
    assert emit.stale(build.files()) == []


def test_every_part_is_in_the_drawings_and_in_one_stage() -> None:
    texts = [t.text or "" for name in ("chips", "socket", "others")
             for t in ET.parse(FOLDER / f"{name}.svg").iter("{http://www.w3.org/2000/svg}text")]
    words = {word for text in texts for word in re.findall(r"\b[A-Z]+\d+\b", text)}
    refs = [part.ref for stage in stages.stages(FIXTURE) for part in stage.parts]
    assert sorted(refs) == sorted(part["ref"] for part in FIXTURE["part"])
    assert set(refs) - words == {f"C{310 + k}" for k in FIXTURE["lists"]["decoupled"]}   # from rail to rail: nothing to draw


@pytest.mark.parametrize(("old", "new", "words"), [
    ('"registers off"', '"registers of"', "R332: reduced/stages.toml has no stage for role 'registers off'"),
    ('roles = ["decoupling"]', 'roles = ["decoupling", "chimney"]', "no part has the role 'chimney'"),
])
def test_a_part_without_a_stage_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, old: str, new: str, words: str) -> None:
    mine = tmp_path / "stages.toml"
    mine.write_text(stages.STAGES.read_text().replace(old, new))
    monkeypatch.setattr(stages, "STAGES", mine)
    with pytest.raises(WiringError, match=re.escape(words)):
        stages.stages(FIXTURE)
