"""A monostable timed by the real image: the firmware's step `one_shot` and the chip's timing cell meet in the network.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from virtual_fixture.bench import Bench
from virtual_fixture.chips import load

from .test_boards import bits
from .test_chips_monostables import NODE_F
from .wire import Client, Pass, step

DEMO = Path(__file__).parents[1] / "chips" / "demo"
CLOCK_S, NO_PULSE, NO_END = 1 / 16e6, 0, 0xFFFE
A, B, CLEAR, Q, RCX = 1, 2, 3, 21, 23          # of a 74x123's first half, in socket positions
TRICKLE, TRICKLE_OHM = 2, 100.1e3


def timed(source: Any, variant: str = "pc", again: int = 0) -> tuple[Pass, Bench]:
    """Both readings of `one_shot` with the 100 k resistor on the timing pin."""
    bench = Bench(load(source, 1), 1, variant, nominal=True)
    client = Client(bench)
    client.hello()
    done = client.run_pass(
        step("reference", reference=0), step("power_on", supply=24, supply_2=0, ground=8, limit=900),
        step("drive", m_on=bits(A, B, CLEAR), m_high=bits(CLEAR), s_on=0, s_high=0),
        step("sense", position=RCX, load=TRICKLE, ld=2), step("settle", us=2000),
        step("one_shot", trigger=B, watch=Q, again=again), step("power_off"))
    assert done.done["status"] == 0
    assert not bench.violations
    return done, bench


@pytest.mark.parametrize("variant", ["pc", "avr"])
@pytest.mark.parametrize("name", ["74123", "74LS123", "74HC123"])
def test_the_width_is_the_cells(name: str, variant: str) -> None:
    """Within a look of half a microsecond and the tenth that README.md states."""
    done, _ = timed({"part": name}, variant)
    width, seen = done.readings[-2:]
    circuit = load({"part": name}, 1).circuit
    assert circuit is not None
    assert seen == 8
    assert width * CLOCK_S == pytest.approx(circuit.cells[0].width_s(TRICKLE_OHM, NODE_F), rel=0.1, abs=0.6e-6)


def test_both_boards_see_the_same_pulse() -> None:
    widths = [timed({"part": "74LS123"}, variant)[0].readings[-2] for variant in ("pc", "avr")]
    assert abs(widths[0] - widths[1]) <= 8


def test_faults() -> None:
    sound = timed(DEMO / "sound_74ls123.toml")[0].readings[-2]
    assert timed(DEMO / "silent_74ls123.toml")[0].readings[-2:] == [NO_PULSE, 0]
    assert timed(DEMO / "endless_74ls123.toml")[0].readings[-2] == NO_END
    assert timed(DEMO / "wide_74ls123.toml")[0].readings[-2] == pytest.approx(3 * sound, rel=0.2)


def test_a_second_edge_prolongs_a_retriggerable_one_only() -> None:
    for name, prolonged in (("74LS123", True), ("74HC221", False)):
        once, twice = (timed({"part": name}, again=again)[0].readings[-2] for again in (0, 10))
        assert (twice > once + 60) == prolonged          # 10 looks are 80 clocks
