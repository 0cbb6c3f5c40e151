"""Write the golden vectors: what one end of the wire must make of bytes.

    python -m protocol.vectors.make            # write
    python -m protocol.vectors.make --check    # exit 1, naming each stale file

The bytes are made with the public packages `cobs` and `crccheck`, not with any code of
this project, so that host and firmware are both held against something else.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import sys
from typing import Any

from cobs import cobs  # type: ignore[import-untyped]
from crccheck.crc import Crc16Ibm3740  # type: ignore[import-untyped]

from protocol import emit

ABOUT_FRAMES = "Frames and their bytes on the wire: encoding gives `wire`, decoding gives the rest. Hexadecimal but for the numbers."
ABOUT_DEVICE = (
    "Bytes that reach the device. Before each vector: a fresh device takes `setup` (a hello with room 4; its welcome is "
    "not looked at), unless the vector says `session: false`. Then `rx` comes in. `deliver`: numbered messages that come "
    "out, in order. `control`: unnumbered messages but ack, in order. `answers`: reasons of the ack frames sent, but for "
    "keep_alive and room, which may ride or come at any time; equal ones in a row count once. `expected`: the ack number "
    "afterwards. `damaged`: frames counted as damaged. Messages are taken as they come, or after all of `rx` if `hold`.")
ABOUT_STEPS = "Steps and their bytes, worked by hand from the table of steps: `code` is the step's code and arguments, `readings` how many it gives."
IDS = {"hello": 0x01, "ack": 0x02, "halt": 0x03, "state_request": 0x04, "clear_faults": 0x05, "pass_begin": 0x10,
       "steps": 0x11, "welcome": 0x81}
Vector = dict[str, Any]


def raw(body: bytes) -> bytes:
    """CRC and COBS of the referees, and the delimiter."""
    return bytes(cobs.encode(body + Crc16Ibm3740.calc(body).to_bytes(2, "big")) + b"\x00")


def wire(name: str | int, seq: int = 0, payload: bytes = b"", ack: int = 0, room: int = 4) -> bytes:
    """A frame from the host."""
    return raw(bytes([seq, ack, room, IDS[name] if isinstance(name, str) else name]) + payload)


def begin(seq: int, pass_id: int = 1) -> bytes:
    """pass_begin."""
    return wire("pass_begin", seq, pass_id.to_bytes(2, "little"))


def flip(frame: bytes, at: int, bit: int = 0) -> bytes:
    """One bit the other way; the byte must not become the delimiter, nor have been it."""
    out = bytearray(frame)
    out[at] ^= 1 << bit
    assert out[at] and frame[at], "choose another bit"
    return bytes(out)


def vector(title: str, rx: bytes, deliver: list[tuple[str, bytes]], expected: int, *, answers: str = "",
           damaged: int = 0, control: str = "", session: bool = True, hold: bool = False) -> Vector:
    """One vector; `answers` and `control` are words."""
    return {"title": title, "session": session, "hold": hold, "rx": rx.hex(),
            "deliver": [{"message": name, "payload": payload.hex()} for name, payload in deliver],
            "control": control.split(), "answers": answers.split(), "expected": expected, "damaged": damaged}


ONE = ("pass_begin", b"\x01\x00")
TWO = ("steps", b"\x01\x00")
STEPS = wire("steps", 1, b"\x01\x00")
FULL = bytes(range(1, 97))


def good() -> list[Vector]:
    """What must be taken."""
    return [
        vector("one good frame", begin(0), [ONE], 1),
        vector("two good frames in a row", begin(0) + STEPS, [ONE, TWO], 2),
        vector("the longest payload", wire("steps", 0, FULL), [("steps", FULL)], 1),
        vector("the longest payload, all zeros", wire("steps", 0, bytes(96)), [("steps", bytes(96))], 1),
        vector("the longest payload, all ones", wire("steps", 0, b"\xff" * 96), [("steps", b"\xff" * 96)], 1),
        vector("a payload of no bytes where any number will do", wire("steps", 0), [("steps", b"")], 1),
        vector("260 frames: the numbers wrap at 256", b"".join(wire("steps", i % 256, bytes([1])) for i in range(260)),
               [("steps", b"\x01")] * 260, 4),
        vector("delimiters between frames are nothing", b"\x00" * 9 + begin(0) + b"\x00" * 50 + STEPS + b"\x00", [ONE, TWO], 2),
        vector("nothing but delimiters", b"\x00" * 200, [], 0),
        vector("halt, whatever its number", wire("halt", 77), [], 0, control="halt"),
        vector("control messages between numbered ones do not disturb them",
               begin(0) + wire("state_request", 1) + STEPS + wire("halt", 2), [ONE, TWO], 2, control="state_request halt"),
        vector("a bare acknowledgement", wire("ack", 0, b"\x00"), [], 0),
        vector("an acknowledgement of frames never sent is ignored, its frame is taken",
               wire("pass_begin", 0, b"\x01\x00", ack=9), [ONE], 1),
        vector("hello starts the streams anew", begin(0) + STEPS + wire("hello", 0, b"\x02\x35\x12") + begin(0, 2),
               [ONE, TWO, ("pass_begin", b"\x02\x00")], 1, control="hello"),
    ]


def damaged() -> list[Vector]:
    """What must be dropped, counted and answered."""
    body = bytes([0, 0, 4, 0x10, 1, 0])
    swapped = cobs.encode(body + Crc16Ibm3740.calc(body).to_bytes(2, "little")) + b"\x00"
    return [
        vector("cut short by three bytes", begin(0)[:-4] + b"\x00", [], 0, answers="damaged", damaged=1),
        vector("cut to one byte", begin(0)[:1] + b"\x00", [], 0, answers="damaged", damaged=1),
        vector("cut short, then whole", begin(0)[:-4] + b"\x00" + begin(0), [ONE], 1, answers="damaged", damaged=1),
        vector("its delimiter lost: it drags the next one down", begin(0)[:-1] + STEPS + begin(0), [ONE], 1,
               answers="damaged", damaged=1),
        vector("a bit flipped in the payload", flip(wire("steps", 0, FULL), 40), [], 0, answers="damaged", damaged=1),
        vector("a bit flipped in the number", flip(wire("steps", 5, FULL), 1, 3), [], 0, answers="damaged", damaged=1),
        vector("a bit flipped in the check sum", flip(begin(0), -2, 1), [], 0, answers="damaged", damaged=1),
        vector("a bit flipped in the stuffing", flip(wire("steps", 0, FULL), 0, 6), [], 0, answers="damaged", damaged=1),
        vector("check sum with its bytes swapped", swapped, [], 0, answers="damaged", damaged=1),
        vector("check sum right, header cut short", raw(b"\x00\x00\x04"), [], 0, answers="damaged", damaged=1),
        vector("nothing but a check sum", raw(b""), [], 0, answers="damaged", damaged=1),
        vector("one byte too long", wire("steps", 0, bytes([7]) * 97), [], 0, answers="damaged", damaged=1),
        vector("far too long, good ones before and behind", begin(0) + wire("steps", 1, bytes([7]) * 240) + STEPS,
               [ONE, TWO], 2, answers="damaged", damaged=1),
        vector("600 bytes of noise without a delimiter, then a good frame", b"\xa5\x5a\x11" * 200 + b"\x00" + begin(0),
               [ONE], 1, answers="damaged", damaged=1),
        vector("short rubbish, many times", b"\x01\x00\x02\x00\x05\x07\x00" * 20 + begin(0), [ONE], 1,
               answers="damaged", damaged=60),
        vector("an unknown message", wire(0x7F, 0, b"\x01"), [], 0, answers="damaged", damaged=1),
        vector("a message that is the device's to send", wire("welcome", 0, bytes(18)), [], 0, answers="damaged", damaged=1),
        vector("a numbered message a byte too long", wire("pass_begin", 0, b"\x01\x00\x00"), [], 0, answers="damaged",
               damaged=1),
        vector("a control message with a payload it does not have", wire("halt", 0, b"\x01"), [], 0, answers="damaged",
               damaged=1),
    ]


def order() -> list[Vector]:
    """Numbers out of order, no room, no session."""
    three = wire("steps", 2, b"\x01") + wire("steps", 3, b"\x01")
    return [
        vector("the first one missing", STEPS, [], 0, answers="gap"),
        vector("the first one missing, then all from there", STEPS + begin(0) + STEPS, [ONE, TWO], 2, answers="gap"),
        vector("one complaint for all that come ahead", STEPS + three, [], 0, answers="gap"),
        vector("a second gap is told again", STEPS + begin(0) + wire("steps", 2, b"\x01") + STEPS, [ONE, TWO], 2,
               answers="gap gap"),
        vector("after a damaged one, those ahead are dropped without another word",
               flip(begin(0), -2, 1) + STEPS + three, [], 0, answers="damaged", damaged=1),
        vector("the same frame twice is taken once", begin(0) + begin(0), [ONE], 1, answers="repeated"),
        vector("a whole window sent again is taken once", begin(0) + STEPS + begin(0) + STEPS + wire("steps", 2, b"\x01"),
               [ONE, TWO, ("steps", b"\x01")], 3, answers="repeated repeated"),
        vector("from long ago", wire("steps", 200, b"\x01"), [], 0, answers="repeated"),
        vector("half the circle ahead is behind", wire("steps", 128, b"\x01"), [], 0, answers="repeated"),
        vector("one less than half the circle is ahead", wire("steps", 127, b"\x01"), [], 0, answers="gap"),
        vector("more than there is room for", b"".join(wire("steps", i, bytes([i])) for i in range(6)),
               [("steps", bytes([i])) for i in range(4)], 4, answers="gap", hold=True),
        vector("without a session all is dropped in silence", begin(0) + STEPS + wire("ack", 0, b"\x00"), [], 0,
               session=False),
        vector("without a session a damaged frame is not answered", flip(begin(0), -2, 1), [], 0, damaged=1, session=False),
    ]


def frames() -> list[Vector]:
    """Frames and their bytes."""
    cases = [("an empty payload", 0, 0, 4, 0x03, b""), ("zeros everywhere", 0, 0, 0, 0x11, bytes(5)),
             ("no zero anywhere", 1, 2, 3, 0x11, bytes(range(1, 30))), ("all ones", 255, 255, 255, 0x11, b"\xff" * 96),
             ("the longest, alternating zeros", 9, 8, 4, 0x11, b"\x00\x01" * 48), ("a hello", 0, 0, 4, 0x01, b"\x02\x34\x12")]
    return [{"title": title, "seq": seq, "ack": ack, "room": room, "id": ident, "payload": payload.hex(),
             "wire": raw(bytes([seq, ack, room, ident]) + payload).hex()} for title, seq, ack, room, ident, payload in cases]


# Worked by hand, little-endian, in the order of the table: no program was used for the bytes.
STEP_BYTES: list[tuple[str, dict[str, int], str, int]] = [
    ("end", {}, "00", 0),
    ("idle", {}, "01", 0),
    ("drive", {"m_on": 0x800001, "m_high": 0, "s_on": 0x10, "s_high": 0x10}, "02 010080 000000 100000 100000", 0),
    ("levels", {"high": 0x123456}, "03 563412", 0),
    ("pin", {"position": 24, "lines": 3, "high": 1}, "04 18 03 01", 0),
    ("sense", {"position": 10, "load": 7, "ld": 2}, "05 0a 07 02", 0),
    ("reference", {"reference": 2}, "06 02", 0),
    ("settle", {"us": 1000}, "07 e803", 0),
    ("read", {"source": 3, "repeats": 64}, "08 03 40", 1),
    ("scan", {"mask": 0x800001, "repeats": 3}, "09 010080 03", 2),
    ("load", {"position": 3, "lines": 2, "load": 0, "high": 1, "also": 12, "repeats": 4, "settle_us": 500},
     "0a 03 02 00 01 0c 04 f401", 2),
    ("power_on", {"supply": 24, "supply_2": 0, "ground": 7, "limit": 1023}, "0b 18 00 07 ff03", 1),
    ("power_off", {}, "0c", 0),
    ("level", {"code": 512}, "0d 0002", 0),
    ("verify", {"position": 17}, "0e 11", 2),
    ("pulse", {"position": 9, "count": 300}, "0f 09 2c01", 0),
    ("ground", {"position": 12}, "10 0c", 0),
    ("load_scan", {"mask": 0x00F00F, "high": 0x00000F, "lines": 1, "load": 5, "repeats": 2, "settle_us": 258},
     "11 0ff000 0f0000 01 05 02 0201", 8),
    ("ramp", {"position": 1, "watch": 24, "first": 1023, "last": 2, "step_us": 50, "repeats": 8, "settle_us": 65535},
     "12 01 18 ff03 0200 3200 08 ffff", 3),
    ("lines_read", {}, "13", 2),
    ("deadman", {"high": 1}, "14 01", 2),
    ("registers", {"pattern": 0xABCDEF}, "15 efcdab", 2),
    ("supply_span", {}, "16", 4),
    ("one_shot", {"trigger": 9, "watch": 13, "again": 16}, "17 09 0d 10", 2),
]


def steps() -> list[Vector]:
    """Each step once."""
    return [{"step": name, "arguments": arguments, "code": code.replace(" ", ""), "readings": readings}
            for name, arguments, code, readings in STEP_BYTES]


def files() -> dict[str, str]:
    """All files, as text."""
    device = {"about": ABOUT_DEVICE, "setup": wire("hello", 0, b"\x02\x34\x12").hex(),
              "vectors": [*good(), *damaged(), *order()]}
    return {"protocol/vectors/frames.json": json.dumps({"about": ABOUT_FRAMES, "vectors": frames()}, indent=1) + "\n",
            "protocol/vectors/steps.json": json.dumps({"about": ABOUT_STEPS, "vectors": steps()}, indent=1) + "\n",
            "protocol/vectors/device.json": json.dumps(device, indent=1) + "\n"}


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "protocol.vectors.make"))
