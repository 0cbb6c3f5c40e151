"""Virtual chips in the virtual fixture: electricity, noise, tolerances.  `python tests/identify_library.py` is the long run.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from pathlib import Path

import pytest
from identify_here import cases, identify_here, place

from sagbench.identify.seating import Seating
from virtual_fixture.inproc import Fixture

SECONDS = 10.0          # simulated, for each chip
REDUCED = Path(__file__).parents[3] / "hardware" / "reduced" / "wiring.toml"
DEMO = Path(__file__).parents[2] / "virtual_fixture" / "chips" / "demo"


@pytest.mark.parametrize("case", cases(31, bad=False, count=9), ids=lambda case: case.chip["part"])
def test_a_sound_chip_is_first(case) -> None:  # type: ignore[no-untyped-def]
    found, took, violations = identify_here(case.chip, case.seed)
    assert place(found, case.number) == 1 and found.found and found.settled
    assert took < SECONDS and violations == []


@pytest.mark.parametrize("case", cases(32, bad=True, count=7), ids=lambda case: case.chip["part"])
def test_a_chip_with_a_dead_output_is_among_the_first(case) -> None:  # type: ignore[no-untyped-def]
    found, took, violations = identify_here(case.chip, case.seed)
    assert 1 <= place(found, case.number) <= 3
    assert took < SECONDS and violations == []


@pytest.mark.parametrize(("file", "words"), [("reversed_7400.toml", "wrong way round"), ("shifted_7400.toml", "row"), ("empty.toml", "looks empty"),
                                              ("short_supply_74ls00.toml", "as good as shorted")])
def test_what_must_not_be_powered_is_not(file: str, words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from sagbench.identify.bench import Bench

    monkeypatch.setattr(Bench, "power", lambda *_: pytest.fail("it was powered"))
    found, _, violations = identify_here(str(DEMO / file), 7)
    assert words in found.problem and not found.found and violations == []


def test_a_chip_whose_rails_are_not_switched_is_given_no_name() -> None:
    """A 4051's VEE is a second ground; what fits it best would have no sound output."""
    found, _, violations = identify_here({"part": "4051"}, 7)
    assert not found.found and "4051" in {c.function for c in found.untried} and violations == []


def test_rails_named_wrongly_look_like_a_chip_in_the_wrong_row() -> None:
    found, _, violations = identify_here({"part": "74LS04"}, 5, power=(frozenset({16}), frozenset({8})))
    assert "row" in found.problem and found.problem.endswith("--power names other rails than it has: leave that out.") and violations == []


def test_rails_at_pins_that_no_chip_has_are_refused() -> None:
    """The largest package of this socket has 24 pins; of the chip itself nothing is said."""
    from sagbench.errors import UsageError

    for pins in ((frozenset({40}), frozenset({7})), (frozenset({14}), frozenset({25}))):
        with pytest.raises(UsageError, match="socket takes chips of 24 pins at most") as refused:
            identify_here({"part": "74LS04"}, 5, power=pins)
        assert refused.value.exit_code == 2


def test_a_chip_taken_out_meanwhile_is_no_other_chip() -> None:
    """What floats once it is out resembles this part of the library or that, with a dead output."""
    from identify_here import BOOT_S, library

    from sagbench.device import Device
    from sagbench.identify.run import identify

    with Fixture(seed=7) as fixture:
        fixture.insert({"part": "74LS138"})
        fixture.run(BOOT_S)
        fixture.at(0.05, lambda: fixture.insert(None), powered=True)
        with Device(fixture.line) as device:
            found = identify(device, library())
        assert not found.found and "lost contact while it was looked at" in found.problem and not fixture.violations


def test_unsettled_rails_are_asked_for() -> None:
    """A 16-pin chip whose pin 13 makes no contact could be one with two supplies."""
    asked: list[Seating] = []
    chip = {"part": "74LS138", "fault": [{"kind": "open", "pin": 13}]}
    found, _, _ = identify_here(chip, 5, confirm=lambda seating: asked.append(seating))
    assert len(asked) == 1 and "--power" in found.problem
    rail = (frozenset({16}), frozenset({8}))
    found, _, violations = identify_here(chip, 5, power=rail)
    assert place(found, "138") == 1 and not found.settled and violations == []
    assert found.ranked[0].bad_pins == (13,)


def test_the_reduced_build_knows_what_it_can_hold() -> None:
    found, _, violations = identify_here({"part": "74LS138"}, 11, build={"wiring": REDUCED})
    assert place(found, "138") == 1 and found.found and found.settled and violations == []


def test_inputs_too_heavy_for_m_are_driven_by_both_lines() -> None:
    """Inputs of the plain 74181 are up to five unit loads (data books): M lifts to 1.5 V and more under them."""
    found, _, violations = identify_here({"part": "74181"}, 956998)
    assert place(found, "181") == 1 and found.found and not found.ranked[0].bad_pins and violations == []


@pytest.mark.parametrize(("part", "number"), [("74121", "121"), ("1489", "1489")])
def test_an_input_that_is_a_resistor_is_no_bad_pin(part: str, number: str) -> None:
    """RINT of the 121 is 2 kohm to the timing transistor, a 1489's inputs some kilohms (data books, from memory)."""
    found, _, violations = identify_here({"part": part}, 7)
    assert place(found, number) == 1 and found.found and not found.ranked[0].bad_pins and violations == []


@pytest.mark.parametrize(("name", "families", "functions", "hysteresis"), [
    ("74LS00", {"LS"}, {"00", "37"}, (0.0, 0.1)), ("74LS132", {"LS"}, {"132", "24"}, (0.4, 1.2)),
    ("74HC132", {"HC", "HCT"}, {"132"}, (0.4, 1.5))])
def test_family_by_fingerprint_and_schmitt_inputs_by_their_hysteresis(
        name: str, families: set[str], functions: set[str], hysteresis: tuple[float, float]) -> None:
    """Hysteresis of 132s in data books: 0.4 V least, 0.8 V typical (LS); 0.2 to 1.2 V at 4.5 V (HC); from memory.
    HC and HCT differ in their threshold, and that of a Schmitt input does not tell a family."""
    from identify_here import BOOT_S, library

    from sagbench.device import Device
    from sagbench.identify.family import fingerprint
    from sagbench.identify.run import identify

    with Fixture(seed=9) as fixture:
        fixture.insert({"part": name})
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            begun = device.state().uptime_ms
            found = identify(device, library())
            silicon = fingerprint(device, found.ranked[0].members, found.low_amperes)
            took = (device.state().uptime_ms - begun) / 1000
        assert fixture.violations == []
    assert silicon is not None and sum(g.probability for g in silicon.families if g.family in families) > 0.9
    assert {m.function for m in silicon.members if families & set(m.families)} == functions
    assert silicon.volts and all(hysteresis[0] <= abs(volts) <= hysteresis[1] for volts in silicon.volts.values())
    assert took < SECONDS
