"""Serve a virtual fixture on a pseudo-terminal.

    python -m virtual_fixture --chip FILE.toml --seed N [--fast] [--link PATH]
    python -m virtual_fixture --empty --seed N

Prints `port: /dev/pts/N` and serves until standard input closes, SIGTERM or SIGINT
comes.  Lines on standard input change what is around the controller, each answered
by one line:

    status | truth (for studies, never for the host) | forgive | those of commands.py: chips, resistors, defects, supply, at once or at a moment

`--at COMMAND` gives such a command at the start: `--at "powered 0.1 pull"` pulls the chip 0.1 s after
it is powered.

Exit code 0: nothing happened that must not; 1: something did, listed on standard
error; 2: it could not start.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import json
import os
import select
import signal
import sys
from dataclasses import asdict
from pathlib import Path

from hardware.wiring import PATH

from .bench import Bench, Pace
from .clib import FixtureError
from .commands import prepare
from .draw import SHAPES

SLICE_S = 0.05


def _arguments(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="virtual_fixture", description="A virtual fixture on a pseudo-terminal.")
    seat = parser.add_mutually_exclusive_group(required=True)
    seat.add_argument("--chip", metavar="FILE", help="chip file for the socket")
    seat.add_argument("--empty", action="store_true", help="nothing in the socket")
    seat.add_argument("--resistor", metavar="A,B=OHMS", action="append",
                      help="a resistor between two positions of the socket; may be given several times")
    parser.add_argument("--seed", type=int, default=1, help="which specimen of fixture and chip (default 1)")
    parser.add_argument("--spread", choices=SHAPES, help="how parts are spread over their spans (default: as the wiring "
                        "file says); the chip is not touched by it")
    parser.add_argument("--wiring", metavar="FILE", type=Path, default=PATH, help="wiring file of the build (default: the full "
                        "one; hardware/reduced/wiring.toml is the reduced one)")
    parser.add_argument("--defect", metavar="NAME=VALUE", action="append", default=[],
                        help="a broken part of the fixture, for instance R105=open, U2.3=900, Q124=short, D24=low, "
                             "D22+D24=2, U9=2.40 (README.md lists all); may be given several times")
    parser.add_argument("--at", metavar="COMMAND", action="append", default=[],
                        help='what happens at a moment: "after SECONDS COMMAND" or "powered SECONDS COMMAND" (after the chip '
                             'is powered), with pull, "chip FILE", "dip VOLTS SECONDS", "fault open pin=GND", ...; README.md')
    parser.add_argument("--fast", action="store_true", help="the firmware's core built for this machine, no simulator")
    parser.add_argument("--image", metavar="FILE", help="another image than build/firmware/sagbench.elf")
    parser.add_argument("--usb", type=float, metavar="VOLTS", help="open-circuit voltage of the USB supply")
    parser.add_argument("--pace", choices=["busy", "real"], default="busy",
                        help="busy: a working device runs as fast as it goes; real: never faster than real time")
    parser.add_argument("--link", metavar="PATH", help="make a symbolic link to the port")
    return parser.parse_args(words)


def _status(bench: Bench) -> str:
    figures = bench.figures
    return json.dumps({
        "simulated_s": round(figures.now_s, 6), "cycles": figures.cycles, "solves": figures.solves,
        "conversions": figures.conversions, "resets": figures.resets, "stack_free": figures.stack_free,
        "powered": bench.powered, "enabled": bench.enabled, "longest_short_ms": figures.longest_short_s * 1e3,
        "peak_pin_ma": figures.peak_pin_a * 1e3, "peak_total_ma": figures.peak_total_a * 1e3,
        "violations": [str(v) for v in bench.violations],
    })


def _obey(bench: Bench, line: str) -> str:
    """One line of standard input; the answer."""
    match line.strip():
        case "forgive":
            return json.dumps([str(v) for v in bench.forgive()])
        case "status":
            return _status(bench)
        case "truth":
            return json.dumps(asdict(bench.truth))
    prepare(bench, line)()
    return "ok"


def _serve(bench: Bench, asked_to_stop: list[int]) -> None:
    """Run in slices; between them look at standard input."""
    pending = b""
    while not asked_to_stop:
        try:
            bench.serve(SLICE_S)
        except (FixtureError, ValueError, OSError) as wrong:    # of a command whose moment has come
            print(f"virtual_fixture: {wrong}", file=sys.stderr)
        if bench.trouble:
            return
        if not select.select([0], [], [], 0)[0]:
            continue
        try:
            data = os.read(0, 4096)
        except OSError:         # in the background of a terminal: what is typed there is for others
            continue
        if not data:
            return
        *lines, pending = (pending + data).split(b"\n")
        for line in filter(None, lines):
            try:
                answer = _obey(bench, line.decode())
            except (FixtureError, ValueError, OSError) as wrong:
                answer = f"error: {wrong}"
            print(answer, flush=True)


def _link(path: str, target: str) -> None:
    """Put the link in place at once, whatever was there before."""
    fresh = f"{path}.{os.getpid()}"
    os.symlink(target, fresh)
    os.replace(fresh, path)


def main(words: list[str]) -> int:
    arguments = _arguments(words)
    pace = Pace.REAL if arguments.pace == "real" else Pace.BUSY
    try:
        bench = Bench(arguments.chip, arguments.seed, "pc" if arguments.fast else "avr",
                      image=arguments.image, usb_v=arguments.usb, pace=pace, defects=arguments.defect,
                      spread=arguments.spread, wiring=arguments.wiring)
        if arguments.resistor:
            bench.resistors(*arguments.resistor)
        for command in arguments.at:
            prepare(bench, command)()
        port = bench.open_port()
    except (FixtureError, ValueError, OSError) as wrong:
        print(f"virtual_fixture: {wrong}", file=sys.stderr)
        return 2
    signals: list[int] = []
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda got, _frame: signals.append(got))
    signal.signal(signal.SIGTTIN, signal.SIG_IGN)   # reading then fails instead of stopping the server
    if arguments.link:
        _link(arguments.link, port)
    print(f"port: {port}", flush=True)
    _serve(bench, signals)
    if arguments.link:
        Path(arguments.link).unlink(missing_ok=True)
    found = bench.violations
    for violation in found:
        print(f"violation: {violation}", file=sys.stderr)
    if bench.trouble:
        print(f"virtual_fixture: {bench.trouble}", file=sys.stderr)
    bench.close()
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
