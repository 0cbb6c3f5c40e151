"""`python -m virtual_fixture` as its users see it: one line, a port, an exit code.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from .wire import frame, step

ROOT = Path(__file__).resolve().parents[3]
DEMO = Path(__file__).resolve().parents[1] / "chips" / "demo"
ENV = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}"}
# With what must happen at once: a machine may be slow and its only core busy. Nothing that works waits so long.
PATIENCE_S = 60.0
HELLO = frame(0, 0, 4, "hello", b"\x01\x34\x12")


class Server:
    def __init__(self, *words: str) -> None:
        self.process = subprocess.Popen([sys.executable, "-m", "virtual_fixture", *words], cwd=ROOT, env=ENV, text=True,
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        assert self.process.stdout
        line = self.process.stdout.readline()
        assert line.startswith("port: /dev/pts/"), line
        self.port = line.removeprefix("port: ").strip()

    def command(self, line: str) -> str:
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()

    def stop(self) -> tuple[int, str]:
        """Close its input; exit code and what it wrote to standard error."""
        _, err = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, err


@pytest.fixture(params=[(), ("--fast",)], ids=["simulator", "native"])
def server(request: pytest.FixtureRequest) -> Iterator[Server]:
    server = Server("--empty", "--seed", "3", *request.param)
    yield server
    if server.process.poll() is None:
        server.process.kill()
        server.process.communicate()


def ask(port: str, data: bytes, want: bytes, limit_s: float = PATIENCE_S) -> bytes:
    """Open the port, send (again each half second: what comes before the firmware has started is lost), read until
    `want` has come, close."""
    fd = os.open(port, os.O_RDWR | os.O_NOCTTY)
    got = b""
    end = time.monotonic() + limit_s
    try:
        while want not in got and time.monotonic() < end:
            os.write(fd, data)
            while want not in got and select.select([fd], [], [], 0.5)[0]:
                got += os.read(fd, 4096)
    finally:
        os.close(fd)
    return got


def test_answers_at_the_port_as_often_as_it_is_opened(server: Server) -> None:
    for _ in range(3):
        assert b"SAGB" in ask(server.port, HELLO, b"SAGB")
    assert server.stop() == (0, "")


def test_ends_when_standard_input_closes(server: Server) -> None:
    start = time.monotonic()
    assert server.stop() == (0, "")
    assert time.monotonic() - start < PATIENCE_S / 2


def test_ends_on_a_signal(server: Server) -> None:
    server.process.send_signal(signal.SIGTERM)
    assert server.stop()[0] == 0


def test_status_and_changes_around_the_controller(server: Server) -> None:
    status = json.loads(server.command("status"))
    assert status["violations"] == [] and status["powered"] is False
    assert server.command("usb 4.9") == "ok"
    assert server.command(f"chip {DEMO / 'sound_7400.toml'}") == "ok"
    assert server.command("empty") == "ok"
    assert server.command("button 1") == "ok"
    assert server.command("nonsense").startswith("error:")
    assert server.command("chip /nowhere.toml").startswith("error:")
    assert server.command("usb much").startswith("error:")
    assert server.stop() == (0, "")


def test_defects_and_resistors_by_command(server: Server) -> None:
    assert server.command("defect R105=open D24=low") == "ok"
    assert server.command("mend R105") == "ok"
    assert server.command("mend") == "ok"
    assert server.command("resistor 7,24=220 9,10=1e4") == "ok"
    assert server.command("empty") == "ok"
    assert server.command("defect R999=open").startswith("error: defect R999=open: R999 is nothing of this fixture")
    assert server.command("mend R105").startswith("error: R105 is not broken")
    assert server.command("resistor 7,24").startswith("error: resistor `7,24`: write A,B=OHMS")
    assert server.stop() == (0, "")


def test_defects_and_resistors_from_the_start() -> None:
    server = Server("--resistor", "7,24=220", "--resistor", "9,10=1e4", "--defect", "U9=2.4", "--fast")
    assert server.command("mend U9") == "ok"
    assert server.stop() == (0, "")


def test_truth_by_command(server: Server) -> None:
    assert server.command("defect U9=2.4") == "ok"
    truth = json.loads(server.command("truth"))
    assert truth["defects"] == ["U9=2.4"] and abs(truth["nodes"]["VREF"] - 2.4) < 0.02
    assert truth["drawn"]["U9.volts"] == 2.4 and truth["supply"]["powered_s"] == 0
    assert server.stop() == (0, "")


def test_idle_time_is_wall_time(server: Server) -> None:
    """Never faster; slower only while the machine gives it no time, so the best of several seconds counts."""
    shares = []
    while not shares or (shares[-1] < 0.5 and len(shares) < 20):
        before = time.monotonic()
        first = json.loads(server.command("status"))["simulated_s"]
        time.sleep(1.0)
        second = json.loads(server.command("status"))["simulated_s"]
        wall = time.monotonic() - before
        assert second - first < wall + 0.06
        shares.append((second - first) / wall)
    assert shares[-1] > 0.5


def test_a_violation_is_the_exit_code() -> None:
    """The reset is one that nobody asked for: planted by a program that hangs without leave."""
    from .images import image
    server = Server("--empty", "--image", str(image("watchdog")))
    end = time.monotonic() + PATIENCE_S
    while not json.loads(server.command("status"))["violations"] and time.monotonic() < end:
        time.sleep(0.05)
    code, err = server.stop()
    assert code == 1
    assert re.search(r"^violation: \d+\.\d{6} s: unexpected reset, MCUSR ", err, re.MULTILINE)


def test_link(tmp_path: Path) -> None:
    link = tmp_path / "port"
    server = Server("--empty", "--link", str(link))
    assert os.readlink(link) == server.port
    assert server.stop()[0] == 0
    assert not link.is_symlink()


def test_what_cannot_start_says_so_in_one_sentence(tmp_path: Path) -> None:
    for words in (["--chip", str(tmp_path / "none.toml")], ["--empty", "--image", str(tmp_path / "none.elf")],
                  ["--empty", "--image", __file__], ["--empty", "--defect", "R999=open"], ["--resistor", "7,24"]):
        done = subprocess.run([sys.executable, "-m", "virtual_fixture", *words], cwd=ROOT, env=ENV, text=True,
                              capture_output=True, stdin=subprocess.DEVNULL)
        assert done.returncode == 2 and "Traceback" not in done.stderr
        assert done.stderr.startswith("virtual_fixture: ")


def test_steps_are_taken_from_the_spec() -> None:
    assert step("settle", us=300) == b"\x07\x2c\x01"


def test_stays_up_in_the_background_of_a_terminal() -> None:
    """Started with `&` at a prompt: what is typed there is not read, and does not stop it (job control: POSIX.1 11.1.4)."""
    inner = (
        "import subprocess, sys, time\n"
        "job = subprocess.Popen([sys.executable, '-m', 'virtual_fixture', '--empty', '--fast'],\n"
        "                       stdout=subprocess.PIPE, text=True, process_group=0)\n"
        "print(job.stdout.readline().strip(), flush=True)\n"
        "time.sleep(1.0)\n"
        "state = open(f'/proc/{job.pid}/stat').read().rsplit(')', 1)[1].split()[0]\n"
        "job.terminate()\n"
        "print('state', state, 'code', job.wait(60), flush=True)\n")
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(ROOT)
        os.execve(sys.executable, [sys.executable, "-c", inner], ENV)
    said = b""
    try:
        while not re.search(rb"code -?\d+\s", said) and select.select([terminal], [], [], PATIENCE_S)[0]:
            said += os.read(terminal, 4096)
            if said.count(b"port: ") and b"typed" not in said:
                os.write(terminal, b"typed at the prompt\n")
    finally:
        os.close(terminal)
        os.waitpid(child, 0)
    words = said.decode().split("state ")[-1].split()
    assert words[0] in "SR" and words[2] == "0", said
