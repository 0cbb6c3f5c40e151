"""`sagbench fixture calibrate` on the virtual fixture, as a user would, and against what its parts really are.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import json
import re
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from math import sqrt
from pathlib import Path

import pytest
import rig
from calibration_bench import truth
from virtual_fixture.inproc import Fixture

from sagbench.calibrate import store
from sagbench.calibrate.alone import calibrate_alone
from sagbench.calibrate.evaluate import evaluate
from sagbench.calibrate.meter import reference_code
from sagbench.calibrate.session import Given, Session
from sagbench.calibrate.with_resistor import ContactLost, measure_pair, pairs
from sagbench.device import Device
from sagbench.plan.fixture import load_fixture

SEED, REAL = 3, 470.15  # ohms of the resistor that is said to be 470 within 0.1 %: what it is off, all lines share
FIXTURE = load_fixture("bench24")
# Whole paths, never single parts: the model would add pin or channel once more.
WHOLE = re.compile(r"(strong|medium)_drive\[\d+\]\.(high|low)|(weak_load|trickle_load|heavy_load|calibration_reference)\.(high|low)"
                   r"|level_drive\.path|channel\[\d+\]|channel_hump|(channel|selector)_shape|offset|icc_gain|vref")
PAIR = re.compile(r"between positions (\d+) and (\d+) \(")


class Command:
    """`sagbench fixture ...` on a virtual fixture, with somebody who does what it asks for."""

    def __init__(
        self, board: rig.VirtualFixture, data: Path, *words: str, before: Callable[[], None] | None = None
    ) -> None:
        self.board = board
        env = {**rig.ENV, "SAGBENCH_DATA": str(data)}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "sagbench", *words, "--port", board.port],
            cwd=rig.ROOT,
            env=env,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            preexec_fn=before,
        )
        self.said: list[str] = []

    def asked(self) -> tuple[int, int] | None:
        """Wait until a pair of positions is asked for; None: it has ended."""
        assert self.process.stderr
        for line in self.process.stderr:
            self.said.append(line.rstrip())
            if found := PAIR.search(line):
                return int(found[1]), int(found[2])
        return None

    def hears(self, words: str) -> str:
        """Wait for a line with these words."""
        assert self.process.stderr
        for line in self.process.stderr:
            self.said.append(line.rstrip())
            if words in line:
                return line
        raise AssertionError(f"{words!r} was not said: {self.said}")

    def end(self) -> tuple[int, str]:
        """Exit code and standard output; the rest of what is said is kept."""
        out, rest = self.process.communicate(timeout=60)
        self.said += rest.splitlines()
        return self.process.returncode, out


def fixture_command(board: rig.VirtualFixture, data: Path, *words: str) -> tuple[int, str, str]:
    """Run to its end: exit code, standard output, standard error."""
    command = Command(board, data, "fixture", *words)
    code, out = command.end()
    return code, out, "\n".join(command.said)


def put(board: rig.VirtualFixture, pair: tuple[int, int], ohms: float = REAL) -> None:
    board.command(f"resistor {pair[0]},{pair[1]}={ohms}")


@pytest.fixture
def board():
    with rig.virtual_fixture("--empty", "--seed", str(SEED), "--fast", "--pace", "real") as fixture:
        yield fixture


@pytest.fixture
def numbered(board):
    with Device.connect(board.port) as device:
        device.set_serial(7)
        time.sleep(0.3)  # until its memory has it
    return board


@pytest.fixture
def data(tmp_path):
    return tmp_path / "data"


def test_one_users_way(board, data, tmp_path):
    """From a new fixture to a sweep with its calibration, with all that may go wrong on the way."""
    data.mkdir()
    without_a_number(board, data)
    the_first_stage(board, data)
    another_number(board, data)
    nothing_put_in(board, data)
    interrupted_with_wrong_places_and_wrong_resistors(board, data)
    the_walk_to_its_end(board, data)
    a_worse_one_unasked(board, data)
    a_meter_at_the_rail(board, data)
    a_sweep_uses_it(board, data, tmp_path)


def without_a_number(board, data):
    code, _, said = fixture_command(board, data, "calibrate")
    assert code == 2 and "has no serial number yet" in said and "--serial 1" in said and len(said.splitlines()) == 1
    assert not list(data.iterdir())


def the_first_stage(board, data):
    code, out, said = fixture_command(board, data, "calibrate", "--serial", "7")
    assert code == 0, said
    assert "Stage 1, 1 of 5: converter." in said and "board alone" in out
    [kept] = data.glob("*.json")
    assert kept.name.startswith("calibration-0000000007-") and str(kept) in out
    close_to_truth(kept, (9.0, 3.2))
    code, out, _ = fixture_command(board, data, "info", "--json")
    assert code == 0 and json.loads(out)["serial"] == "7" and str(kept) in json.loads(out)["calibration"]


def close_to_truth(path: Path, most: tuple[float, float]) -> None:
    """Every line within 3 U of what it really is, nineteen of twenty within U; U of S and M no more than this (ohms)."""
    real, components = truth(SEED), store.read(path).components
    off = [abs(c.value - real[name]) / (2 * c.u) for name, c in components.items() if name in real]
    assert len(off) >= 96 and max(off) < 1.5 and sum(o <= 1 for o in off) >= 0.9 * len(off)
    assert 2 * components["strong_drive[5].low"].u < most[0] and 2 * components["medium_drive[5].low"].u < most[0]


def another_number(board, data):
    code, _, said = fixture_command(board, data, "calibrate", "--serial", "8")
    assert code == 2 and said == "sagbench: This fixture is number 7 already, not 8; leave --serial out."


def nothing_put_in(board, data):
    before = sorted(data.glob("*.json"))
    command = Command(board, data, "fixture", "calibrate", "--resistor", "470,0.1%", "--wait", "2")
    first = command.asked()
    assert first == (1, 24)
    put(board, first)
    second = command.asked()
    assert second == (2, 23)  # the first was noticed and measured
    board.command("empty")
    code, _ = command.end()
    assert code == 4 and "what has been measured is kept" in command.said[-1]
    assert sorted(data.glob("*.json")) == before and list(data.glob("*.part"))


def interrupted_with_wrong_places_and_wrong_resistors(board, data):
    command = Command(board, data, "fixture", "calibrate", "--resistor", "470,0.1%")
    asked = command.asked()
    assert asked == (2, 23) and any("Going on with what was measured" in line for line in command.said)
    put(board, (3, 23))
    assert "It is between 3 and 23; put it between 2 and 23." in command.hears("It is between")
    put(board, (2, 23), 1000.0)
    assert re.search(r"some 9\d\d|some 10\d\d", command.hears("is it the right resistor"))
    board.command("resistor 2,23=470 5,6=100")
    put(board, (2, 23))
    assert command.asked() == (3, 22)
    command.process.send_signal(signal.SIGINT)
    code, _ = command.end()
    assert code == 130 and "interrupted; what has been measured is kept" in command.said[-1]
    code, out, _ = fixture_command(board, data, "info", "--json")
    assert code == 0 and json.loads(out)["socket"] == "24 positions, not powered"
    board.command("empty")


def the_walk_to_its_end(board, data):
    command = Command(board, data, "fixture", "calibrate", "--resistor", "470,0.1%")
    places = []
    while pair := command.asked():
        places.append(pair)
        put(board, pair)
    code, out = command.end()
    board.command("empty")
    assert code == 0, command.said
    assert places == pairs(FIXTURE)[2:] and "12 pairs of positions" in out
    kept = max(data.glob("*.json"))
    close_to_truth(kept, (1.1, 1.1))
    assert store.read(kept).components["icc_gain"].u / store.read(kept).components["icc_gain"].value < 0.0015
    assert all(stage.misfit < 1.2 for stage in store.read(kept).stages)
    assert not list(data.glob("*.part"))


def a_worse_one_unasked(board, data):
    code, _, said = fixture_command(board, data, "calibrate")
    assert code == 2 and "without one it would get worse" in said


def a_meter_at_the_rail(board, data):
    code, _, said = fixture_command(board, data, "calibrate", "--rail", "5.6,0.1%")
    assert code == 2 and "U9 would be" in said
    vref = truth(SEED)["vref"]
    with Device.connect(board.port) as device:
        rail = vref * 1024 / (reference_code(device) + 0.4)  # what a perfect meter would show, to a code
    code, out, said = fixture_command(board, data, "calibrate", "--rail", f"{rail:.4f},0.005")
    assert code == 0 and "5 V rail read as" in out, said
    found = store.read(max(data.glob("*.json")))
    assert [stage.name for stage in found.stages] == ["self", "external", "meter"]
    assert abs(found.components["vref"].value - vref) < 2 * found.components["vref"].u < 0.008


def a_sweep_uses_it(board, data, tmp_path):
    board.command("chip tests/demo/sound.toml")
    env = {**rig.ENV, "SAGBENCH_DATA": str(data)}

    def swept(*words: str) -> tuple[dict, str]:
        out = tmp_path / "chip.json"
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "sagbench",
                "sweep",
                "74LS00",
                "--port",
                board.port,
                "--json",
                str(out),
                "--quiet",
                *words,
            ],
            cwd=rig.ROOT,
            env=env,
            text=True,
            capture_output=True,
            check=False,
        )
        raw = json.loads(out.read_text())
        return raw.get("record", raw), done.stderr

    record, _ = swept()
    assert record["fixture"]["calibration"].startswith("external resistor, meter,")
    plain, _ = swept("--no-calibration")
    assert plain["fixture"]["calibration"].startswith("none: not wanted")
    narrow, wide = (r["supply"][0]["value"]["u"] for r in (record, plain))
    noise = 2 * 13e-6  # of an LS00's supply current, the converter's: it is in both, and nearly half of the rest goes
    assert narrow**2 - noise**2 < (0.7**2) * (wide**2 - noise**2)
    newest = max(data.glob("*.json"))
    text = newest.read_text()
    newest.write_text(text[:500])
    damaged, said = swept()
    assert "is damaged" in damaged["fixture"]["calibration"] and "the calibration is not used" in said
    newest.write_text(text)
    board.command("empty")


def test_two_programs_at_once(numbered, data):
    with Device.connect(numbered.port):
        for words in (("calibrate", "--fresh"), ("selftest",)):
            code, _, said = fixture_command(numbered, data, *words)
            assert code == 3 and len(said.splitlines()) == 1 and "sagbench: " in said, said


def test_a_disk_that_fills_up(numbered, data):
    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    code, _, _ = fixture_command(numbered, data, "calibrate")
    before = {path: path.read_text() for path in data.iterdir()}
    assert code == 0 and len(before) == 2
    command = Command(numbered, data, "fixture", "calibrate", "--fresh", before=little_room)
    code, _ = command.end()
    assert code == 2 and "cannot be written" in command.said[-1] and "make room" in command.said[-1]
    assert {path: path.read_text() for path in data.iterdir()} == before


def test_the_wrong_resistor_by_the_boards_own_reference(numbered, data):
    command = Command(numbered, data, "fixture", "calibrate", "--fresh", "--resistor", "485,0.1%")
    pair = command.asked()
    assert pair
    put(numbered, pair)
    code, _ = command.end()
    numbered.command("empty")
    assert code == 2 and re.search(
        r"is 4[67]\d\.\d ohm, within .* 485 ohm within 0\.485 ohm was said", command.said[-1]
    )


def test_a_cable_pulled_in_the_middle_loses_nothing_that_was_measured(data):
    with rig.virtual_fixture("--empty", "--seed", str(SEED), "--fast", "--pace", "real") as board:
        command = Command(board, data, "fixture", "calibrate", "--serial", "7", "--resistor", "470,0.1%")
        first = command.asked()
        assert first, (command.end(), command.said)
        put(board, first)
        assert command.asked() == (2, 23)
        board.command("empty")
    code, _ = command.end()
    assert code == 3 and len([line for line in command.said if line.startswith("sagbench: ")]) == 1, command.said
    with rig.virtual_fixture("--empty", "--seed", str(SEED), "--fast", "--pace", "real") as board:
        command = Command(board, data, "fixture", "calibrate", "--serial", "7", "--resistor", "470,0.1%", "--wait", "1")
        assert command.asked() == (2, 23)
        assert command.end()[0] == 4


def test_something_in_the_socket(numbered, data):
    put(numbered, (3, 9), 1000.0)
    code, _, said = fixture_command(numbered, data, "calibrate", "--fresh")
    numbered.command("empty")
    assert code == 2 and "The socket is not empty: positions 3 and 9 conduct" in said


@pytest.mark.parametrize(
    "words, said",
    [
        (("--resistor", "much"), "cannot be read"),
        (("--resistor", "220,0.1%"), "takes 400 to 1500 ohm"),
        (("--resistor", "470,5%"), "known to 2 %"),
        (("--resistor", "470,-1"), "cannot be"),
        (("--rail", "5.0"), "how far off it may be"),
        (("--reference", "nan,1"), "cannot be"),
    ],
)
def test_words_that_cannot_be(words, said, tmp_path, capsys):
    from sagbench.cli.main import main

    assert main(["fixture", "calibrate", "--port", str(tmp_path / "none"), *words]) == 2
    assert said in capsys.readouterr().err


def test_contact_lost_in_the_middle_keeps_nothing_of_the_pair():
    with Fixture(seed=11) as board, Device(board.line) as device:
        session = Session(1, FIXTURE.wiring_id, "", "", external=Given(470.0, 0.5))
        calibrate_alone(device, FIXTURE, session, lambda *_: None)
        before = len(session.seen), len(session.draws)
        run_pass, passes = device.run_pass, []

        def pulled(sequence, **rest):
            passes.append(1)
            if len(passes) == 3:
                board.insert(None)
            return run_pass(sequence, **rest)

        device.run_pass = pulled  # type: ignore[method-assign]
        board.resistors("5,20=470")
        with pytest.raises(ContactLost):
            measure_pair(device, FIXTURE, session, (5, 20))
        assert len(passes) > 2 and (len(session.seen), len(session.draws)) == before
        assert not device.state().powered and not board.violations


def test_no_fixture(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "sagbench", "fixture", "calibrate", "--port", str(tmp_path / "none")],
        cwd=rig.ROOT,
        text=True,
        env={**rig.ENV, "SAGBENCH_DATA": str(tmp_path)},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 3 and len(done.stderr.splitlines()) == 1


def test_errors_and_uncertainties_agree_over_several_fixtures():
    """Stage 1: root mean square of errors over standard uncertainties, about 1; 0.4 to 1.35 for 5 x 96 that share a scale.

    The scale dominates, so this is hardly more than five draws: chi-square of 5 degrees is below 5 x 0.4^2 in 2 %.
    """
    off = []
    for seed in range(20, 25):
        with Fixture(seed=seed) as board, Device(board.line) as device:
            session = Session(1, FIXTURE.wiring_id, "", "", done={"self": "2026-01-01T00:00:00+00:00"})
            calibrate_alone(device, FIXTURE, session, lambda *_: None)
            assert not board.violations
        found = evaluate(FIXTURE, session, "2026-01-01T00:00:00+00:00")
        assert all(WHOLE.fullmatch(name) for name in found.components)
        off += [
            (found.components[name].value - value) / found.components[name].u
            for name, value in truth(seed).items()
            if name != "vref"
        ]
    assert 0.4 < sqrt(sum(o * o for o in off) / len(off)) < 1.35
