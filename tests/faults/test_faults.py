"""A small slice of each long run (`make faults`), by the same code, and that each can fail.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import binascii
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cobs import cobs

from faults import killed, line, link, matrix, stopped
from faults.line import CLEAN, Direction, FaultyLine, FaultyTransport, Rates
from sagbench.device import Device
from sagbench.errors import LinkLost
from sagbench.wire import frame
from virtual_fixture.chips import load
from virtual_fixture.inproc import Fixture

from inprocess import sweep_here

DEMO = line.ROOT / "tests/virtual_fixture/chips/demo"


def test_no_wrong_result_over_a_faulty_line() -> None:
    found = [link.stretch(index, frames=1000) for index in range(2)]
    assert {kind for one in found for kind in one["faults"]} == {"bit", "drop", "double", "swap", "stall", "noise"}
    for one in found:
        assert "wrong" not in one["told"] and one["told"]["right"] > 10
        assert one["recovery_s"] <= 1.0


@pytest.mark.parametrize("cut_s", [0.05, 0.3, 1.2, 1.8])
def test_a_line_that_is_cut_and_mended_goes_on_within_a_second(cut_s: float) -> None:
    """Shorter than the lease: the pass goes on where it was, and its result is right."""
    line = FaultyLine(CLEAN, 3)
    program = link.programs()[0]
    with Device(line) as device:
        begun = line.now()
        whole = device.run_pass(program)
        begun, lasted = line.now(), line.now() - begun
        mended = begun + lasted / 3 + cut_s
        line.cut(mended - cut_s, mended)
        assert device.run_pass(program).readings == whole.readings
    assert line.now() - mended < lasted * 2 / 3 + 1.0


def test_a_line_that_is_cut_for_good_is_told_and_the_next_session_is_whole() -> None:
    line = FaultyLine(CLEAN, 3)
    program = link.programs()[0]
    with Device(line) as device:
        whole = device.run_pass(program)
        line.cut(line.now() + 0.05, line.now() + 8)
        with pytest.raises(LinkLost):
            device.run_pass(program)
    line.cut(math.inf, math.inf)
    begun = line.now()
    with Device(line) as device:
        assert line.now() - begun < 1.0
        assert device.run_pass(program).readings == whole.readings


class _NoisyFixture(Fixture):
    made: FaultyTransport

    def __init__(self, seed: int, chip: Path, rates: Rates = Rates(bit=5e-4, swap=1e-2, noise=5e-2)) -> None:
        super().__init__(seed, chip)
        self.rates = rates

    @property
    def line(self) -> Any:
        self.made = FaultyTransport(super().line, self.rates, self.seed)
        return self.made


@pytest.mark.parametrize(("chip", "verdict"), [("sound_74ls00", "sound"), ("tired_74ls00", "not sound")])
def test_a_verdict_over_a_faulty_line_is_the_same(chip: str, verdict: str) -> None:
    with _NoisyFixture(5, DEMO / f"{chip}.toml") as fixture:
        assert sweep_here(fixture, "74LS00").record.verdict == verdict
        assert fixture.made.there.faults.total() > 5


def test_a_device_that_is_not_heard_is_not_kept_powered() -> None:
    """Its way to the host is cut in mid-sweep, the host's way to it is not: what had been measured is kept, and the host takes the power."""
    with _NoisyFixture(3, DEMO / "sound_7400.toml", rates=CLEAN) as fixture:
        fixture.at(0.15, lambda: setattr(fixture.made.back, "cut", (fixture.now_s, math.inf)), powered=True)
        with pytest.raises(LinkLost) as lost:
            sweep_here(fixture, "7400")
        assert lost.value.record is not None and lost.value.record.verdict == "not finished"
        assert not fixture.powered and fixture.truth.supply.powered_s < 0.15 + 2.5


def test_a_host_that_checks_no_sum_takes_wrong_results(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison sees what the check sum keeps out."""
    def careless(stuffed: bytes) -> frame.Frame:
        raw = frame.unstuff(stuffed)
        if len(raw) < frame.RAW_MIN:
            raise frame.BadFrame("too short")
        return frame.Frame(raw[0], raw[1], raw[2], raw[3], raw[4:-2])
    monkeypatch.setattr(frame, "decode", careless)
    assert link.stretch(1, Rates(**{**vars(CLEAN), "bit": 1e-4}), frames=500)["told"]["wrong"] > 0


def test_every_program_shows_what_was_switched() -> None:
    """Readings differ from program to program and within one, or a wrong step would not show."""
    readings = [result[0][0] for result in link._clean()]
    assert len({*readings}) == link.PROGRAMS
    assert all(len({*one}) > len(one) / 4 for one in readings if len(one) > 20)


def _through(rates: Rates, count: int = 400) -> tuple[Direction, bytes, bytes]:
    way, sent = Direction(rates, 5), b""
    for number in range(count):
        body = number.to_bytes(2, "big") * 20
        sent += cobs.encode(body + binascii.crc_hqx(body, 0xFFFF).to_bytes(2, "big")) + b"\0"
    way.put(sent, 0.0)
    return way, sent, way.get(1e9)


def test_a_clean_line_changes_nothing() -> None:
    way, sent, came = _through(CLEAN)
    assert came == sent and not way.faults and way.frames == 400


@pytest.mark.parametrize(("name", "rate", "longer"), [("bit", 1e-4, 0), ("drop", 1e-3, -1), ("double", 1e-3, 1), ("swap", 0.05, 0)])
def test_the_line_does_each_fault_as_often_as_it_says(name: str, rate: float, longer: int) -> None:
    way, sent, came = _through(Rates(**{**vars(CLEAN), name: rate}))
    units = len(sent) * {"bit": 8, "swap": 1 / (line.CHUNK_MOST / 2)}.get(name, 1)
    assert way.faults.keys() == {name} and came != sent
    assert 0.5 < way.faults[name] / (units * rate) < 1.6
    if longer:
        assert len(came) - len(sent) == longer * way.faults[name]
    if name == "swap":
        assert sorted(came) == sorted(sent)
    if name == "bit":
        assert sum((a ^ b).bit_count() for a, b in zip(came, sent, strict=True)) == way.faults["bit"]


def _slice(kind: str) -> Iterator[int]:
    """One case of a kind at its heaviest load, and one at none."""
    cases = [k for k, (name, point, _) in enumerate(stopped.cases()) if name == kind]
    yield from (cases[0], cases[-1])


@pytest.mark.parametrize("index", [k for kind in ("reset", "frozen", "stuck", "silent") for k in _slice(kind)])
def test_a_controller_that_stops_lets_go_in_time(index: int) -> None:
    assert stopped.wrong(stopped.outcome(index)) == ""


def test_power_that_stays_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock stands still and there is no dead-man: nothing takes the power, and the run says so."""
    monkeypatch.setitem(stopped.KINDS, "reset", lambda bench: (bench.break_("Q302=short"), bench.freeze(10.0)))
    assert "powered for" in stopped.wrong(stopped.outcome(0))


@pytest.mark.parametrize("index", [0, killed.KINDS.index("group"), killed.KINDS.index("starting"), killed.KINDS.index("both")])
def test_a_killed_host_leaves_no_power_and_no_child(index: int) -> None:
    assert killed.wrong(killed.outcome(index)) == ""


@pytest.mark.parametrize("index", range(6))
def test_a_faulty_chip_ends_in_words(index: int) -> None:
    assert matrix.outcome(index)["end"] not in matrix.BAD


@pytest.mark.parametrize(("part", "fault", "first", "likely"), [
    ("74LS138", {"kind": "open", "pin": "G2B/"}, "pin 5 (G2B) makes no contact", "the bond wire of pin 5 (G2B) is open"),
    ("74LS14", {"kind": "series", "pin": "GND", "ohms": 60}, "pin 2 (1Y) gives no proper level", "there is a resistance in the way of pin 7 (GND)"),
    ("74LS14", {"kind": "beta", "pin": "2Y", "beta": 4}, "pin 4 (2Y) sinks", "the transistor that pulls pin 4 (2Y) low has lost its gain"),
])
def test_words_that_were_wrong_once(part: str, fault: dict[str, Any], first: str, likely: str) -> None:
    """Found by reading the long run's words: another part was suspected, and a resistance of kilohms in a bond."""
    with Fixture(seed=1197) as fixture:
        fixture.insert(load({"part": part, "fault": [fault]}, seed=1197))
        record = sweep_here(fixture, part).record
    assert record.reasons[0].sentence.startswith(first) and record.diagnoses[0].sentence.startswith(likely)
    assert "see that it is one" not in record.advice and "series resistance" not in record.advice


def test_a_dead_output_makes_no_suspects_of_its_bus() -> None:
    """Where currents into all pins that are outputs too were left out, none of these is off every scale."""
    with Fixture(seed=1361) as fixture:
        fixture.insert(load({"part": "74LS245", "fault": [{"kind": "dead", "pin": "B6"}]}, seed=1361))
        record = sweep_here(fixture, "74LS245").record
    assert record.diagnoses and {d.pin for d in record.diagnoses} == {13}
    assert all("pin 2 (A1)" not in d.sentence for d in record.diagnoses)


def test_every_kind_on_every_pin_of_twelve_parts() -> None:
    """What the long run goes through: for each part each kind of the virtual chip's table, each pin of it."""
    assert len(matrix.PARTS) >= 12
    had = {(case["part"], case["fault"][0]["kind"], case["fault"][0].get("pin")) for case in matrix.cases()}
    for part in matrix.PARTS:
        pins = matrix._places(part, "pin")
        for kind in ("open", "series", "short"):
            assert {pin for p, k, pin in had if (p, k) == (part, kind)} == {*pins}
    assert {kind for _, kind, _ in had} == {*matrix.FAULTS}


def test_an_end_without_words_and_a_hang_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def hangs(*_: object) -> None:
        while True:
            pass
    monkeypatch.setattr(matrix, "sweep_here", hangs)
    monkeypatch.setattr(matrix, "CPU_MOST_S", 0.5)
    assert matrix.outcome(0)["end"] == "hung"
    monkeypatch.setattr(matrix, "sweep_here", lambda *_: 1 / 0)
    assert matrix.outcome(0)["end"] == "traceback"
