"""Simulated time and a host that says nothing: it may only be waiting for a processor.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import os
import time

import pytest

from virtual_fixture.bench import Bench, Pace, PlainChip

from .wire import SPEC, Client, step

POWER = [step("reference", reference=0), step("power_on", supply=24, supply_2=0, ground=7, limit=900)]
SILENCE_S = SPEC["timing"]["silence_ms"]["value"] / 1e3


@pytest.mark.parametrize("variant", ["avr", "pc"])
def test_time_waits_for_a_host_that_may_be_starved_and_then_goes_on(variant: str) -> None:
    """It stands still 25 ms behind the last word, for 1.5 s of the wall clock; then the silence is real, and as long as it should be."""
    with Bench(PlainChip().resistor(24, 7, 1000), 3, variant) as bench:
        client = Client(bench)
        client.hello()
        client.run_pass(*POWER)
        bench._lib.vf_pace(bench._bench, int(Pace.BUSY))
        port = os.open(bench.open_port(), os.O_RDWR | os.O_NOCTTY)
        os.write(port, b"\0")                          # a word: the end of no frame
        said, begun = bench.now_s, time.monotonic()
        bench.serve(0.5)
        assert bench.powered and 0.02 < bench.now_s - said < 0.04
        while bench.powered:
            assert time.monotonic() - begun < 60
            bench.serve(0.02)
        assert time.monotonic() - begun > 1.4
        assert SILENCE_S - 0.012 < bench.now_s - said < SILENCE_S + 0.025
        os.close(port)
