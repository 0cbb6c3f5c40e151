"""The image in the simulator and the native build of its core give the same readings.

Same seed, same chip file, same wire: the noise of a conversion depends on its index only, and the
native build's clock follows the image's closely enough. Whole sweeps: tests/system/test_same_codes.py.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from collections.abc import Iterator
from pathlib import Path

import pytest

from virtual_fixture.bench import Bench, PlainChip
from virtual_fixture.clib import FixtureError

from .wire import SPEC, Client, Pass, step

DEMO = Path(__file__).resolve().parents[1] / "chips" / "demo"
ALL = 0xFFFFFF


def bits(*positions: int) -> int:
    return sum(1 << k - 1 for k in positions)


# A 74x00 in the top seating: pins 1..7 in positions 1..7, 8..14 in 18..24.
INPUTS, OUTPUTS = (1, 2, 4, 5, 19, 20, 22, 23), (3, 6, 18, 21)


def script() -> list[bytes]:
    """Zero, power, truth table of the gates, loads, leakage of the inputs, thresholds, power off."""
    steps = [step("reference", reference=0), step("read", source=3, repeats=16), step("read", source=1, repeats=16),
             step("power_on", supply=24, supply_2=0, ground=7, limit=900)]
    for a in (0, 1):
        for b in (0, 1):
            high = bits(*(INPUTS[0::2] if a else ()), *(INPUTS[1::2] if b else ()))
            steps.append(step("drive", m_on=bits(*INPUTS), m_high=high, s_on=0, s_high=0))
            steps.append(step("settle", us=50))
            for k in OUTPUTS:
                steps += [step("sense", position=k, load=0, ld=0), step("settle", us=20),
                          step("read", source=0, repeats=4)]
    for position in OUTPUTS:
        for lines, load in ((1, 0), (2, 0), (3, 0), (0, 1)):
            steps.append(step("load", position=position, lines=lines, load=load, high=1, also=7, repeats=4,
                              settle_us=200))
    steps += [step("level", code=300), step("sense", position=1, load=4, ld=0), step("settle", us=30000),
              step("read", source=0, repeats=8), step("read", source=2, repeats=8),
              step("read", source=1, repeats=16), step("power_off")]
    return steps


def run(variant: str, chip: object, seed: int) -> tuple[Pass, Bench]:
    bench = Bench(chip, seed, variant)
    client = Client(bench)
    bench.run(0.05)
    client.hello()
    return client.run_pass(*script()), bench


@pytest.mark.parametrize("chip", ["sound_7400", "sound_74ls00", "sound_74hc00", "tired_7400"])
@pytest.mark.parametrize("seed", [7, 8])
def test_image_and_native_core_read_the_same(chip: str, seed: int) -> None:
    path = DEMO / f"{chip}.toml"
    here, bench = run("avr", path, seed)
    there, other = run("pc", path, seed)
    assert here.done["status"] == there.done["status"] == 0
    assert here.events == there.events == []
    assert len(here.readings) == len(there.readings) > 50
    assert here.done["conversions"] == there.done["conversions"]
    assert here.readings == there.readings
    assert bench.violations == other.violations == []


def test_two_native_boards_live_side_by_side() -> None:
    benches = [Bench(None, seed, "pc") for seed in (1, 2)]
    clients = [Client(b) for b in benches]
    for n, client in enumerate(clients):
        client.hello(0x100 + n)
    clients[0].run_pass(step("level", code=500), step("settle", us=40000))
    levels = [b.truth.nodes["V5"] for b in benches]
    assert levels[0] != levels[1]
    assert clients[1].state()["uptime_ms"] < clients[0].state()["uptime_ms"]


@pytest.fixture(params=["avr", "pc"])
def device(request: pytest.FixtureRequest) -> Iterator[tuple[Bench, Client]]:
    with Bench(PlainChip().resistor(24, 7, 1000), 3, request.param) as bench:
        client = Client(bench)
        client.hello()
        yield bench, client


POWER = [step("reference", reference=0), step("power_on", supply=24, supply_2=0, ground=7, limit=900)]


def test_power_comes_on_and_a_silent_host_loses_it(device: tuple[Bench, Client]) -> None:
    bench, client = device
    assert client.run_pass(*POWER).done["status"] == 0
    assert bench.powered and 4.5 < bench.node(24) - bench.node(7) < 5.2
    quiet = bench.now_s - client.sent_at
    bench.run(SPEC["timing"]["silence_ms"]["value"] / 1e3 - quiet - 2e-3)
    assert bench.powered
    bench.run(4e-3)
    assert not bench.powered
    assert bench.violations == []


def test_frozen_controller_loses_power_by_the_dead_man(device: tuple[Bench, Client]) -> None:
    bench, client = device
    client.run_pass(*POWER)
    bench.freeze(0.055)
    bench.run(0.050)
    assert not bench.powered
    assert bench.violations == []


def test_shorted_supply_never_gets_power(device: tuple[Bench, Client]) -> None:
    bench, client = device
    bench.insert(PlainChip().resistor(24, 7, 5))
    result = client.run_pass(*POWER)
    assert result.done["status"] != 0 and result.events
    assert not bench.powered
    assert bench.violations == []


def test_short_that_comes_under_power_is_cut(device: tuple[Bench, Client]) -> None:
    bench, client = device
    client.run_pass(*POWER)
    bench.insert(PlainChip().resistor(24, 7, 12))
    bench.run(0.02)
    assert not bench.powered
    assert client.state()["faults"] & 1
    bench.run(0.1)
    assert not bench.powered
    assert bench.violations == []


def test_shorted_output_under_load_is_let_go_in_time(device: tuple[Bench, Client]) -> None:
    bench, client = device
    bench.insert(PlainChip().resistor(24, 7, 500).resistor(3, 0, 0.5))
    result = client.run_pass(*POWER, step("load", position=3, lines=2, load=0, high=1, also=0, repeats=64,
                                          settle_us=100))
    assert [e["position"] for e in result.events] == [3]
    assert result.readings[-1] == 0xFFFF
    assert 0 < bench.figures.longest_short_s < 1e-3
    assert bench.violations == []


def test_button_is_read(device: tuple[Bench, Client]) -> None:
    bench, client = device
    assert client.state()["button"] == 0
    bench.button(True)
    assert client.state()["button"] == 1


def test_watchdog_restarts_a_hung_program_unpowered() -> None:
    with Bench(PlainChip().resistor(24, 7, 1000), 3, "avr") as bench:
        client = Client(bench)
        client.hello()
        client.run_pass(*POWER)
        bench.run(0.005)      # its last acknowledgement is through
        bench.spin()
        bench.run(0.12)
        assert bench.figures.resets == 1 and not bench.powered
        assert client.hello()["reset_cause"] & 8
        assert bench.violations == []


def test_stack_of_the_image_stays_small() -> None:
    with Bench(DEMO / "sound_7400.toml", 7, "avr") as bench:
        client = Client(bench)
        client.hello()
        client.run_pass(*script())
        state = client.state()
        assert abs(state["stack_free"] - bench.figures.stack_free) < 64
        assert bench.figures.stack_free > 3000


def test_a_closed_bench_says_so() -> None:
    bench = Bench(variant="none")
    bench.close()
    bench.close()
    for look in (lambda: bench.violations, lambda: bench.truth, lambda: bench.run(1e-3), lambda: bench.node(1)):
        with pytest.raises(FixtureError, match="virtual fixture 1 is closed"):
            look()
