"""Things that happen at a moment of simulated time, whatever the pace.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from pathlib import Path

import pytest

from virtual_fixture.bench import Bench, PlainChip
from virtual_fixture.clib import FixtureError
from virtual_fixture.commands import prepare
from virtual_fixture.inproc import Fixture

from .hands import Hands
from .wire import Client, step

DEMO = Path(__file__).resolve().parents[1] / "chips" / "demo"


def do(bench: Bench, *commands: str) -> None:
    for command in commands:
        prepare(bench, command)()


def test_a_dip_falls_and_recovers() -> None:
    bench = Hands().bench
    sound = bench.node("V5")
    do(bench, "after 0.01 dip 4.2 0.005")
    seen = []
    for _ in range(20):
        bench.run(0.001)
        seen.append(bench.node("V5"))
    low = [v < sound - 0.3 for v in seen]
    assert low == [False] * 9 + [True] * 5 + [False] * 6
    assert seen[-1] == pytest.approx(sound, abs=1e-6)


def test_in_one_run_it_is_the_same_moment() -> None:
    """The end of the dip is due in the middle of one long run."""
    hands = Hands(PlainChip().resistor(24, 0, 470))
    bench, marks = hands.bench, []
    bench.at(0.0123, lambda: marks.append(bench.now_s))
    bench.at(0.0042, lambda: marks.append(bench.now_s))
    start = bench.now_s
    bench.run(0.5)
    assert [round(mark - start, 6) for mark in marks] == [0.0042, 0.0123]


@pytest.mark.parametrize("variant", ["pc", "avr"])
def test_pulled_so_long_after_it_is_powered(variant: str) -> None:
    with Fixture(7, DEMO / "sound_7400.toml", variant) as bench:
        client = Client(bench)
        bench.run(0.05)
        client.hello()
        do(bench, "powered 0.02 pull")
        seen: list[tuple[bool, float]] = []

        def look() -> None:
            seen.append((bench.powered, bench.icc_v))
        bench.at(0.019, look, powered=True)
        bench.at(0.021, look, powered=True)
        client.run_pass(step("reference", reference=0), step("power_on", supply=24, supply_2=0, ground=7, limit=900),
                        step("settle", us=40000), step("power_off"))
        assert [powered for powered, _ in seen] == [True, True]
        # 18 mV for each milliampere (the wiring file's own figures); a 7400 draws 4 mA at least (data book, ICCH typical)
        assert seen[0][1] - seen[1][1] > 18e-3 * 3
        assert bench.chip_source is None
        assert bench.violations == []


def test_powered_waits_for_the_next_time() -> None:
    hands = Hands()
    bench, marks = hands.bench, []
    bench.at(0.001, lambda: marks.append(bench.now_s), powered=True)
    hands.power("P24")
    hands.pump(0.01)
    assert bench.powered
    bench.run(0.002)
    assert len(marks) == 1
    bench.run(0.1)                              # the dead-man lets go
    assert not bench.powered
    hands.pump(0.01)
    assert bench.powered and len(marks) == 1    # once


def test_a_fault_comes_while_the_chip_sits_there() -> None:
    bench = Bench(DEMO / "sound_74ls00.toml", 7, "none")
    do(bench, "fault short pin=1Y to=GND ohms=2")
    assert bench.chip_source["fault"] == [{"kind": "short", "pin": "1Y", "to": "GND", "ohms": 2}]
    do(bench, "fault open pin=GND")
    assert [fault["kind"] for fault in bench.chip_source["fault"]] == ["short", "open"]
    do(bench, "after 0.01 empty")
    bench.run(0.02)
    assert bench.chip_source is None


@pytest.mark.parametrize(("command", "says"), [
    ("after soon pull", "no time"), ("after 1", "no command"), ("dip 1.0 0.1", "brown-out"), ("dip 4.5", "no command"),
    ("after 0.1 nonsense", "no command"), ("powered 0.1 chip /nowhere.toml", "nowhere"), ("fault open pin=GND", "no chip"),
    ("after 0.1 defect R999=open", "R999"), ("usb 12", "no supply"), ("", "no command")])
def test_what_is_wrong_is_said_at_once(command: str, says: str) -> None:
    with pytest.raises((FixtureError, ValueError, OSError), match=says):
        prepare(Bench(None, 1, "none"), command)
