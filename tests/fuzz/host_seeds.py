"""Inputs to begin fuzzing the host with: `seeds(target)`, name -> bytes.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
from typing import Any

from fuzz.readers import ALIASES, LIBRARY, SETTINGS
from sagbench.wire import messages, numbers
from sagbench.wire.frame import Frame, encode


def _files(names: str) -> dict[str, bytes]:
    return {name: (LIBRARY / f"{name}.toml").read_bytes() for name in names.split()}


def _frames() -> dict[str, bytes]:
    welcome = messages.Welcome(b"SAGB", numbers.API_LEVEL, 7, 1, 2, 3, 1, 24)
    some = {"welcome": welcome, "ack": messages.Ack(0), "begin": messages.PassBegin(1), "readings": messages.Readings(1, 0, (1, 2, 3)),
            "done": messages.PassDone(1, 0, 3, 3, 3, 100), "state": messages.StateRequest()}
    return {name: encode(Frame(1, 2, 4, one.ID, one.pack())) for name, one in some.items()}


def _messages() -> dict[str, bytes]:
    kinds = list(messages.BY_ID.values())
    return {kind.__name__: bytes([n]) + bytes(size) for n, kind in enumerate(kinds) for size in (0, 1, 2, 4, 8, 10, 16, 19, 24)}


def _short(tree: Any) -> Any:
    """JSON with two entries at most in each list: a record of 30,000 letters takes a tenth of a second, and says no more."""
    if isinstance(tree, dict):
        return {key: _short(value) for key, value in tree.items()}
    return [_short(value) for value in tree[:2]] if isinstance(tree, list) else tree


LOGIC = {
    "gate": b"1Y = !(1A & 2A)\n2Y = 1A ^ 2A | C", "flip": b"q := D & !q | C on rising CK, clear !E, set F\nQ = q",
    "latch": b"q := D while E\n1Y = q\n2Y = C ? D : E\nQ = !q", "off": b"1Y = 1A when C\n2Y = off\nQ = 1",
    "wires": b"w = 1A & 2A\n1Y = w\n2Y = !w", "sum": b"s = {1A, 2A} + {C, D}\n1Y = s[0]",
}

PLACES = {
    "words": b"Y: 4x 74H00, 2x 74LS04 ; 2Y: 1k up\x001A B: 7404, 3x 7400\x00",
    "resistors": b"1Y: 2k2 down, 15mA up 12V; 3Y: 7400.2, 5 x 74LS00.1A\x003A: SN7404N\x00",
    "own": b"1Y: .2B\x00\x00",
    "file": b'\x00\x00[drives]\n"Y" = ["4x 74H00", "1k up"]\n[driven_by]\n"1A B" = ["7404"]\n',
}


def seeds(target: str) -> dict[str, bytes]:
    """Good examples of what the target reads."""
    if target in ("calibration", "session"):
        from host.calibrate.test_calibrate_store import SESSION, SOUND
        from sagbench.calibrate import store
        from sagbench.plain import plain
        if target == "calibration":
            return {"sound": json.dumps({"format": store.FORMAT, "version": store.VERSION, **plain(SOUND)}).encode()}
        return {"begun": json.dumps(store.to_plain(SESSION)).encode()}
    if target == "record":
        from host.report import examples
        from sagbench.report.codec import to_json
        whole = {name: json.loads(to_json(make())) for name, make in examples.ALL.items() if name != "hostile"}
        return {name: json.dumps(_short(record)).encode() for name, record in whole.items()}
    return {"frames": _frames, "wire_messages": _messages, "part": lambda: _files("00 03 125 74 123 283"), "statements": lambda: LOGIC,
            "configuration": lambda: {"settings": SETTINGS}, "house_numbers": lambda: {"some": ALIASES}, "place": lambda: PLACES,
            "link": lambda: {"some": bytes((2, 1, 6, 0, 4, 9, 3, 5, 6, 0, 5, 30, 6, 0, 2, 1, 2, 2, 1, 3)) + bytes(18) + bytes((7, 0, 0, 3, 1, 0, 2))},
            "marking": lambda: {str(n): text.encode() for n, text in enumerate(
                ("SN74LS00N", "~DM 9300 N", "CD4011BE", "74LS00 8432", "N8T26AN", "MC846P", "~74LS0O", "93L08PC", "ls04"))}}[target]()
