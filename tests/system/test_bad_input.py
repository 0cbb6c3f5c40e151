"""Each thing that can be wrong: one clear sentence, the exit code the README promises, no traceback.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import threading
import time
import tomllib
import tty

import pytest

from rig import ENV, ROOT, sagbench, virtual_port

SOUND = ROOT / "tests/demo/sound.toml"
DEMO = ROOT / "tests/virtual_fixture/chips/demo"


def said(done) -> str:
    """What the command wrote to stderr, joined to one line; a traceback fails at once."""
    assert "Traceback" not in done.stderr + done.stdout
    return " ".join(done.stderr.split())


@pytest.mark.parametrize(("part", "words"), [
    ("74LS9999", ["74LS9999"]),
    ("74LS0O", ["74LS00"]),
    ("74LS25", ["74LS25", "7425"]),
    ("74S245", ["74S245", "LS"]),
    ("", ["part"]),
])
def test_an_unknown_part_is_answered_by_the_nearest_names(part, words):
    done = sagbench("sweep", part, "--port", "/dev/null")
    assert done.returncode == 2
    for word in words:
        assert word in said(done)


def test_no_device_at_the_port():
    done = sagbench("sweep", "7400", "--port", "/dev/ttyNOSUCH")
    assert done.returncode == 3
    assert "/dev/ttyNOSUCH" in said(done)


def silent_port(answer: bytes = b"") -> tuple[int, str]:
    """A terminal behind which something says `answer` to whatever it hears."""
    near, far = pty.openpty()
    tty.setraw(far)

    def babble() -> None:
        while True:
            try:
                os.read(near, 1000)
                if answer:
                    os.write(near, answer)
            except OSError:
                return
    threading.Thread(target=babble, daemon=True).start()
    return near, os.ttyname(far)


@pytest.mark.parametrize(("answer", "word"), [(b"", "answer"), (b"+OK modem ready\r\n\0", "not")])
def test_a_device_that_is_silent_or_not_ours(answer, word):
    near, port = silent_port(answer)
    done = sagbench("sweep", "7400", "--port", port)
    os.close(near)
    assert done.returncode == 3
    assert word in said(done) and port in said(done)


def test_firmware_of_another_api_level_is_named(tmp_path):
    near, far = pty.openpty()
    tty.setraw(far)
    helper = subprocess.Popen([sys.executable, ROOT / "tests/system/other_level.py", str(near)], pass_fds=[near], env=ENV)
    try:
        done = sagbench("sweep", "7400", "--port", os.ttyname(far))
    finally:
        helper.kill()
        helper.wait()
    assert done.returncode == 3
    own = tomllib.loads((ROOT / "protocol/spec.toml").read_text())["protocol"]["api_level"]
    assert f"API level 9, this program {own}" in said(done)


def test_a_link_lost_in_mid_pass_keeps_what_there_is(tmp_path):
    record = tmp_path / "record.json"
    # In real time a 74181 takes more than a second, so that the link is lost on the way (or before, on a slow machine).
    command = [sys.executable, "-m", "virtual_fixture", "--chip", str(DEMO / "sound_74181.toml"), "--seed", "4", "--pace", "real"]
    fixture = subprocess.Popen(command, env=ENV, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    port = fixture.stdout.readline().removeprefix("port: ").strip()
    sweep = subprocess.Popen([sys.executable, "-m", "sagbench", "sweep", "74181", "--port", port, "--json", str(record)],
                             env=ENV, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    time.sleep(1.0)
    fixture.kill()
    out, err = sweep.communicate(timeout=60)
    assert "Traceback" not in err + out
    assert sweep.returncode == 3, (sweep.returncode, out, err)
    assert port in " ".join(err.split())


@pytest.mark.parametrize("volts", [4.4, 5.6])
def test_a_supply_outside_its_span_is_said(volts):
    with virtual_port(SOUND, 3, "--usb", str(volts)) as port:
        done = sagbench("sweep", "74LS00", "--port", port)
    assert done.returncode == 3
    assert "4.75" in said(done) and "5.25" in said(done)


def test_an_over_current_is_a_result_and_power_goes():
    with virtual_port(DEMO / "short_supply_74ls00.toml", 3) as port:
        done = sagbench("sweep", "74LS00", "--port", port)
    assert done.returncode == 1
    assert "shorted" in done.stdout


def test_an_excess_beyond_the_trip_is_a_result(tmp_path):
    chip = tmp_path / "burning.toml"
    chip.write_text('part = "74LS00"\n[[fault]]\nkind = "excess_supply"\nmilliamperes = 300\n')
    with virtual_port(chip, 3) as port:
        done = sagbench("sweep", "74LS00", "--port", port)
    assert done.returncode == 1, done.stderr
    assert "power" in done.stdout.lower() and "NOT SOUND" in done.stdout


def test_a_part_file_with_mistakes_shows_each_with_its_place(tmp_path):
    wrong = tmp_path / "00.toml"
    wrong.write_text('function = "00"\ntitle = 7\ncolour = "red"\n[[pinout]]\npins = ["1A"]\n[[block]]\nlogic = ["1Y = 1A &"]\n[family.XX]\n')
    done = sagbench("sweep", "74LS00", "--parts-dir", str(tmp_path), "--port", "/dev/null")
    assert done.returncode == 2
    lines = [line for line in done.stderr.splitlines() if "00.toml:" in line]
    assert len(lines) >= 4, done.stderr
    assert f"{wrong}:2:" in done.stderr or "00.toml:2:" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_chip_file_with_mistakes_shows_each_with_its_place(tmp_path):
    wrong = tmp_path / "chip.toml"
    wrong.write_text('part = "74LS00"\n[[fault]]\nkind = "mumps"\n[[fault]]\nkind = "beta"\npin = "9Z"\nbeta = 5\n')
    done = subprocess.run([sys.executable, "-m", "virtual_fixture", "--chip", str(wrong)], env=ENV, cwd=ROOT, text=True,
                          capture_output=True, stdin=subprocess.DEVNULL, timeout=30, check=False)
    assert done.returncode != 0
    assert "chip.toml:3:" in done.stderr and "chip.toml:6:" in done.stderr
    assert "Traceback" not in done.stderr


def test_more_pins_than_the_socket_has(tmp_path):
    pins = '"P1", "P2", ' + ", ".join('"NC"' for _ in range(24))
    (tmp_path / "9999.toml").write_text(
        f'function = "9999"\ntitle = "too long"\n[[pinout]]\npins = ["GND", "VCC", {pins}]\n'
        '[[block]]\ninputs = ["P1"]\noutputs = ["P2"]\nlogic = ["P2 = !P1"]\n[family.LS]\n')
    with virtual_port(SOUND, 3) as port:
        done = sagbench("sweep", "74LS9999", "--parts-dir", str(tmp_path), "--port", port)
    assert done.returncode == 2
    assert "28" in said(done) and "24" in said(done)


@pytest.mark.parametrize("after_s", [0.6, 0.9])
def test_ctrl_c_keeps_the_partial_record_and_unpowers(tmp_path, after_s):
    record = tmp_path / "record.json"
    with virtual_port(DEMO / "sound_74181.toml", 3, "--pace", "real") as port:
        sweep = subprocess.Popen([sys.executable, "-m", "sagbench", "sweep", "74181", "--port", port, "--json", str(record)],
                                 env=ENV, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(after_s)
        sweep.send_signal(signal.SIGINT)
        out, err = sweep.communicate(timeout=30)
        state = subprocess.run([sys.executable, "-c", f"from sagbench.device import Device\nprint(Device.connect({port!r}).state().powered)"],
                               env=ENV, text=True, capture_output=True, check=True)
    assert sweep.returncode == 130, (out, err)
    assert "Traceback" not in err + out
    assert "interrupt" in (out + err).lower()
    assert state.stdout.strip() in ("0", "False")
    if record.exists():
        assert "interrupted" in json.loads(record.read_text())["partial"]
