"""The golden vectors, run through the host's half in Python (tests/firmware runs the same files in C).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
from itertools import groupby
from pathlib import Path

import pytest

from protocol.vectors import make
from sagbench.wire import messages
from sagbench.wire.frame import Frame, Splitter, decode, encode
from sagbench.wire.link import Link

FOLDER = Path(__file__).resolve().parents[2] / "protocol" / "vectors"
DEVICE = json.loads((FOLDER / "device.json").read_text())
FRAMES = json.loads((FOLDER / "frames.json").read_text())["vectors"]
NAMES = {kind.ID: name for name, kind in (
    ("hello", messages.Hello), ("ack", messages.Ack), ("halt", messages.Halt), ("state_request", messages.StateRequest),
    ("clear_faults", messages.ClearFaults), ("pass_begin", messages.PassBegin), ("steps", messages.Steps))}


def test_the_files_are_what_the_referees_make() -> None:
    for name, text in make.files().items():
        assert (FOLDER / Path(name).name).read_text() == text, f"{name}: run `python -m protocol.vectors.make`"


@pytest.mark.parametrize("case", FRAMES, ids=lambda case: case["title"])
def test_frame(case: dict) -> None:
    frame = Frame(case["seq"], case["ack"], case["room"], case["id"], bytes.fromhex(case["payload"]))
    assert encode(frame).hex() == case["wire"]
    assert decode(bytes.fromhex(case["wire"])[:-1]) == frame


def answers_in(data: bytes) -> list[str]:
    """Reasons of the ack frames, but keep_alive and room; equal ones in a row once."""
    reasons = [messages.Ack.unpack(f.payload).reason.name.lower() for f in Splitter().feed(data)
               if f and f.id == messages.Ack.ID]
    return [reason for reason, _ in groupby(r for r in reasons if r not in ("keep_alive", "room"))]


@pytest.mark.parametrize("chunk", [1, 7, 100000])
@pytest.mark.parametrize("case", DEVICE["vectors"], ids=lambda case: case["title"])
def test_device_end(case: dict, chunk: int) -> None:
    link, now, out, came = Link(host=False, now=0.0), 0.0, b"", []
    if case["session"]:
        link.receive(bytes.fromhex(DEVICE["setup"]), now)
        link.take(now=now)
    rx = bytes.fromhex(case["rx"])
    # Frame by frame at most: only so are messages taken as they come.
    pieces = [run + b"\x00" for run in rx.split(b"\x00")[:-1]] if chunk > 7 else [
        rx[i:i + chunk] for i in range(0, len(rx), chunk)]
    for piece in pieces:
        now += len(piece) * 20e-6
        link.receive(piece, now)
        if not case["hold"]:
            came += link.take(now=now)
        out += link.poll(now)
    came += link.take(now=now)
    out += link.poll(now)
    numbered = [{"message": NAMES[m.ID], "payload": m.pack().hex()} for m in came if m.NUMBERED]
    assert numbered == case["deliver"]
    assert [NAMES[m.ID] for m in came if not m.NUMBERED and not isinstance(m, messages.Ack)] == case["control"]
    assert answers_in(out) == [reason for reason, _ in groupby(case["answers"])]
    assert (link.expected, link.damaged) == (case["expected"], case["damaged"])
