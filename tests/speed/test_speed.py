"""Speed by simulated time, which no other load of the machine changes.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import pytest

from inprocess import sweep_here
from rig import ROOT
from speed.growth import measured
from speed.memory import held
from speed.pace import pace
from speed.sweeps import PARTS, took
from virtual_fixture.inproc import Fixture

MOST_MS = {"quad_gate": 700, "octal_driver": 1500, "74181": 4000, "counter": 2000}


@pytest.mark.parametrize("name", PARTS)
def test_a_sweep_takes_no_longer_than_it_may(name: str) -> None:
    """And its logic passes run at the converter's pace, within a tenth."""
    one = took(PARTS[name], (1,))
    assert one.ms <= MOST_MS[name]
    assert 1.0 < one.ratio <= 1.10


def test_a_stream_of_steps_is_nine_times_as_fast_as_one_request_a_reading() -> None:
    """Without any wait in the other's favour left out; the sums of codes are the same but for noise: 0.4 codes a conversion."""
    found = pace("74LS181")
    assert found.ratio_with_turns > found.ratio >= 9
    assert len(found.streamed) == len(found.one_by_one)
    assert max(abs(a - b) for a, b in zip(found.streamed, found.one_by_one, strict=True)) <= 2 * 6 * 0.5 * 5 ** 0.5


def test_what_bears_its_heaviest_load_is_not_tried_under_lighter_ones_and_what_gives_way_is() -> None:
    """A 7400: 16 mA low (strong), 0.4 mA high (weak); the tired specimen's pin 6 gives way under the first."""
    looked = {}
    for chip in ("sound_7400", "tired_7400"):
        with Fixture(7, ROOT / f"tests/virtual_fixture/chips/demo/{chip}.toml") as fixture:
            looked[chip] = {one.load: one for one in sweep_here(fixture, "7400").record.logic}
    sound, tired = looked["sound_7400"], looked["tired_7400"]
    assert list(sound) == ["open", "weak", "strong"], "low levels under strong, high ones under weak, nothing between"
    assert sound["weak"].checks + sound["strong"].checks == sound["open"].checks
    assert {miss.pin for miss in tired["strong"].misses} == {6}
    assert list(tired) == ["open", "weak", "medium", "strong"] and tired["medium"].checks == 2, "its two low levels"


def test_passes_grow_in_a_straight_line() -> None:
    for growth in measured():
        slope, _ = growth.line
        assert slope > 0 and growth.left_over < 0.03, growth


def test_the_host_holds_little_and_no_more_with_each_chip() -> None:
    """A slice of `python -m speed memory`: each mark of two chips after all five kinds of the box have been seen once.

    In a process of its own: in that of the tests before it, hundreds of megabytes come and go.
    """
    with ProcessPoolExecutor(1, get_context("spawn")) as alone:
        found = alone.submit(held, 9, every=1).result()
    assert max(one.mb for one in found) - found[0].mb < 20, "what one sweep needs for itself, caches filled by the first"
    assert found[-1].mb - found[5].mb < 1.0
