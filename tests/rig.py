"""Start the virtual fixture as a user would, and run the command against it.

    with virtual_port("tests/demo/tired.toml", seed=7) as port:
        done = sagbench("sweep", "74LS00", "--port", port)

Used by the demonstration, the figures and the system tests; it knows the
fixture only by its command line and the serial port it opens.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PATIENCE_S = 60     # with what must end at once: a machine may be slow and its only core busy
ENV = {**os.environ, "PYTHONPATH": os.pathsep.join(map(str, (ROOT, ROOT / "tests", ROOT / "host"))), "NO_COLOR": "1", "COLUMNS": "80"}


class VirtualFixture:
    """A virtual fixture that serves: its serial port, and commands to what is around the controller."""

    def __init__(self, process: subprocess.Popen[str], port: str) -> None:
        self.process, self.port = process, port

    def command(self, line: str) -> str:
        """Send one line of standard input (`resistor 7,24=220`, `defect R105=open`, ...); the answer.

        Raises AssertionError with the fixture's sentence if it refuses.
        """
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline().strip()
        if not answer or answer.startswith("error: "):
            raise AssertionError(f"the virtual fixture refuses `{line}`: {answer or 'it has ended'}")
        return answer


@contextlib.contextmanager
def virtual_fixture(*words: str) -> Iterator[VirtualFixture]:
    """A virtual fixture started with these words (`--empty`, `--resistor`, `--defect R105=open`, `--seed 7`, `--fast`, ...).

    Raises AssertionError with the fixture's own words if it does not start, or if it saw a pin, a
    port group or the chip beyond its ratings, or any other simulator fault.
    """
    process = subprocess.Popen([sys.executable, "-m", "virtual_fixture", *words], cwd=ROOT, env=ENV, text=True,
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout and process.stderr and process.stdin
    line = process.stdout.readline()
    if not line.startswith("port: "):
        process.kill()
        raise AssertionError(f"the virtual fixture did not start: {line}{process.stderr.read()}")
    try:
        yield VirtualFixture(process, line.removeprefix("port: ").strip())
    finally:
        with contextlib.suppress(BrokenPipeError):
            process.stdin.close()
        try:
            process.wait(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
    if process.returncode:
        raise AssertionError(f"the virtual fixture saw trouble:\n{process.stdout.read()}{process.stderr.read()}")


@contextlib.contextmanager
def virtual_port(chip: str | Path | None, seed: int, *options: str) -> Iterator[str]:
    """A virtual fixture with this chip file in its socket (None: empty); gives the serial port's path.

    Raises AssertionError as `virtual_fixture` does.
    """
    seat = ["--empty"] if chip is None else ["--chip", str(chip)]
    with virtual_fixture(*seat, "--seed", str(seed), *options) as fixture:
        yield fixture.port


def sagbench(*words: str, timeout: float = 120, typed: str | None = None, data: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command line program with these words; text in, text out.  data: the user's data folder."""
    env = ENV if data is None else {**ENV, "SAGBENCH_DATA": str(data)}
    return subprocess.run([sys.executable, "-m", "sagbench", *words], cwd=ROOT, env=env, text=True, input=typed,
                          capture_output=True, timeout=timeout, check=False)
