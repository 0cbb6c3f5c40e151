"""Inputs to begin fuzzing with: programs for firmware/fuzz/device.c that reach every step.

    python -m firmware.corpus_seeds FOLDER        # with PYTHONPATH=.:tests, as in the tests

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from pathlib import Path

from .host import MESSAGES, STEPS, mask, step

RAW, FRAME, STEP_FRAME, RUN, WORLD, SAMPLES, BREAK_BYTE, MUTE = range(8)
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=1000)
AVCC = step("reference", reference="avcc")


def frame(name: str, payload: bytes = b"") -> bytes:
    """A good frame with any payload."""
    return bytes([FRAME, MESSAGES[name].id, len(payload)]) + payload


def steps(*some: bytes) -> bytes:
    """A frame of steps."""
    code = b"".join(some)
    return bytes([STEP_FRAME, len(code)]) + code


def run(tenths_ms: int) -> bytes:
    """Time passes."""
    return bytes([RUN, tenths_ms])


def samples(*codes: int) -> bytes:
    """What conversions give, round and round."""
    return bytes([SAMPLES, len(codes), *codes])


def wobble(looks: int) -> bytes:
    """Each so many looks at a port all inputs go to their other level; 0: never."""
    return bytes([WORLD, 0xF0, looks])


def a_pass(number: int, *some: bytes) -> bytes:
    """Begin, steps one frame each, end."""
    return (frame("pass_begin", number.to_bytes(2, "little")) + b"".join(steps(s) for s in some)
            + steps(step("end")) + run(100))


def seeds() -> dict[str, bytes]:
    """Name -> program."""
    verify = step("verify", position=3)
    follow = samples(255, 255, 255, 255, 255, 50, 0, 255, 0, 255)      # rails good, ICC, rails, low, high
    load = dict(position=9, lines=3, load=5, high=1, also=4, repeats=4, settle_us=100)
    scan = dict(mask=mask(3, 9, 20), high=mask(9), lines=2, load=0, repeats=2, settle_us=0)
    some = {
        "power": a_pass(1, POWER, step("idle"), step("power_off")),
        "verify": follow + a_pass(1, POWER, AVCC, verify, step("pin", position=3, lines=3, high=1), step("levels", high=0),
                                  step("pulse", position=3, count=30), step("settle", us=3000)),
        "drive": a_pass(1, step("drive", m_on=0xFFF, m_high=0xF0F, s_on=0, s_high=0), step("levels", high=0xFFFFFF),
                        step("drive", m_on=0xFFFFFF, m_high=0, s_on=0, s_high=0)),
        "wild": a_pass(1, POWER, step("drive", m_on=0, m_high=0, s_on=mask(5), s_high=0)),
        "scan": a_pass(1, AVCC, step("sense", position=5, load=2, ld="high"), step("scan", mask=0xFFFFFF, repeats=1),
                       step("read", source="icc", repeats=64), step("read", source="vdac", repeats=3)),
        "load": a_pass(1, POWER, AVCC, step("load", **load), step("load", **{**load, "lines": 0, "load": 1, "also": 0})),
        "load_scan": samples(100, 120, 90) + a_pass(1, POWER, AVCC, step("load_scan", **scan), step("levels", high=0),
                                                    step("load_scan", **{**scan, "load": 1, "lines": 0})),
        "shorts": samples(0) + a_pass(1, step("load_scan", **{**scan, "high": scan["mask"]}), step("load", **load)),
        "references": a_pass(1, *[step("reference", reference=r) for r in ("v2v56", "v1v1", "avcc")],
                             step("read", source="vref", repeats=1)) + run(250) * 3,
        "ramp": a_pass(1, step("level", code=500), step("ramp", position=1, watch=2, first=0, last=60, step_us=50, repeats=2,
                                                        settle_us=0)) + bytes([WORLD, 0x90, 0xFF]) + run(200),
        "health": a_pass(1, step("lines_read"), step("registers", pattern=0xA5C396), step("ground", position=8),
                         step("supply_span"), step("deadman", high=1)) + run(255) * 2,
        "one_shot": a_pass(1, POWER, step("pin", position=1, lines=1, high=0), step("one_shot", trigger=1, watch=2, again=0),
                           step("one_shot", trigger=1, watch=2, again=8)) + run(250),
        "pulses": b"".join(wobble(looks) + a_pass(n, step("drive", m_on=mask(1, 3), m_high=0, s_on=0, s_high=0),
                                                  step("one_shot", trigger=1, watch=2, again=again)) + run(250)
                           for n, (looks, again) in enumerate(((3, 0), (7, 4), (40, 0), (255, 8)))),
        "trip": a_pass(1, POWER, step("settle", us=20000)) + bytes([WORLD, 4, 0]) + run(50) + frame("clear_faults") + run(20),
        "chain": bytes([WORLD, 8, 0]) + a_pass(1, POWER) + frame("clear_faults") + run(20),
        "stuck": bytes([WORLD, 1, 0]) + a_pass(1, step("deadman", high=0), POWER) + run(255) * 2,
        "mute": bytes([MUTE, 1]) + a_pass(1, *[step("scan", mask=0xFFFFFF, repeats=1)] * 12) + run(200) + bytes([MUTE, 0]) + run(50),
        "serial": frame("serial_set", (5).to_bytes(4, "little")) + run(200) + frame("state_request") + run(20),
        "sessions": frame("hello", b"\x02\x07\x08") + run(20) + a_pass(1, POWER) + frame("hello", b"\x09\x01\x01") + run(20)
        + a_pass(1, AVCC) + a_pass(1, AVCC) + frame("halt") + run(20),
        "noise": bytes([RAW, 30]) + bytes(range(30)) + bytes([BREAK_BYTE, 0]) + frame("state_request") + run(30),
    }
    for name, kind in STEPS.items():          # arguments at both ends of their ranges, and beyond
        for value in (0, 1, 255):
            some.setdefault(f"step_{name}_{value}", a_pass(1, POWER, bytes([kind.code]) + bytes([value]) * kind.length))
    return some


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name_, program in seeds().items():
        (folder / name_).write_bytes(program)
