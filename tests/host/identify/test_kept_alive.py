"""A host that thinks for longer than the fixture's lease.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import time
from types import SimpleNamespace

import pytest

from sagbench.errors import LinkLost
from sagbench.identify.bench import OFTEN_S, Bench
from sagbench.plan.fixture import load_fixture


class Line:
    """A device that is asked how it is; `lost`: it has fallen silent."""

    def __init__(self, lost: bool = False) -> None:
        self.info = SimpleNamespace(wiring_id=load_fixture("bench24").wiring_id, port="here")
        self.asked: list[float] = []
        self.lost = lost

    def state(self) -> None:
        self.asked.append(time.monotonic())
        if self.lost:
            raise LinkLost("silent")


def test_the_fixture_is_talked_to_while_the_host_thinks_and_no_longer() -> None:
    line = Line()
    begun = time.monotonic()
    with Bench(line).kept_alive():  # type: ignore[arg-type]
        while len(line.asked) < 3:
            assert time.monotonic() < begun + 20
            sum(range(10_000))                         # thinking, not sleeping
    asked = len(line.asked)
    time.sleep(2 * OFTEN_S)
    assert len(line.asked) == asked


def test_a_line_that_is_lost_meanwhile_is_left_to_the_next_pass() -> None:
    line = Line(lost=True)
    with pytest.raises(ZeroDivisionError), Bench(line).kept_alive():  # type: ignore[arg-type]
        while not line.asked:
            time.sleep(OFTEN_S / 4)
        time.sleep(2 * OFTEN_S)
        assert len(line.asked) == 1
        _ = 1 // 0                                     # and what the thinking raises comes out as it is
