"""A virtual fixture with an empty socket that a test talks to, and what its parts really are.

Only the virtual fixture's command line, its standard input and `Bench.drawn` are used (its README describes them).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import contextlib
import re
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping

import rig
from hardware.wiring import load


class Virtual:
    """One running virtual fixture. `say` puts something into its socket or breaks a part of it."""

    def __init__(self, seed: int, *options: str) -> None:
        seat = () if any(o in ("--resistor", "--chip") for o in options) else ("--empty",)
        command = [sys.executable, "-m", "virtual_fixture", *seat, "--seed", str(seed), "--fast", *options]
        self.process = subprocess.Popen(command, cwd=rig.ROOT, env=rig.ENV, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, text=True)
        assert self.process.stdout
        line = self.process.stdout.readline()
        assert line.startswith("port: "), line
        self.port = line.removeprefix("port: ").strip()

    def say(self, line: str) -> None:
        """A line on its standard input; it is heard within a fifth of a second."""
        assert self.process.stdin
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        time.sleep(0.2)

    def close(self) -> None:
        """End it. AssertionError if it saw anything beyond its ratings."""
        assert self.process.stdin and self.process.stdout and self.process.stderr
        self.process.stdin.close()
        try:
            self.process.wait(timeout=20)
        finally:
            self.process.kill()
        said = self.process.stdout.read() + self.process.stderr.read()
        assert self.process.returncode == 0, said


@contextlib.contextmanager
def virtual(seed: int, *options: str) -> Iterator[Virtual]:
    """A virtual fixture that must not have seen trouble at the end."""
    fixture = Virtual(seed, *options)
    try:
        yield fixture
    except BaseException:
        fixture.process.kill()
        raise
    fixture.close()


def truth(seed: int) -> Mapping[str, float]:
    """What a calibration is to find, by its components' names: ohms and volts, from what the specimen was drawn as."""
    from virtual_fixture.bench import Bench
    drawn = Bench(seed=seed).truth.drawn
    wiring = load()
    pins = {wire["net"]: wire["port"] for wire in wiring["controller"]["wires"].values()}
    out = {"vref": drawn["U9.volts"]}
    for part in wiring["part"]:
        line = re.fullmatch(r"([SM])(\d+)", part.get("pins", {}).get("1", ""))
        if part["kind"] == "resistor" and line:
            role = part["role"].replace(" ", "_")
            for side in ("high", "low"):
                pin = drawn[f"{pins[line[0]]}.driver_{side}_ohm"]
                out[f"{role}[{line[2]}].{side}"] = drawn[f"{part['ref']}.ohm"] + pin
    return out
