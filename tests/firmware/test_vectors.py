"""The firmware's link and framing against the golden vectors of protocol/vectors, byte for byte.

The vectors are made with the public packages `cobs` and `crccheck`, not with code of this project.
"""
from __future__ import annotations

import ctypes as c
import itertools
import json
from typing import Any

import pytest

from .host import BY_ID, ENUMS, MESSAGES, frame, parse
from .world import LIBRARIES, ROOT

REASONS = {value: name for name, value in ENUMS["ack_reason"].items()}


def load(name: str) -> dict[str, Any]:
    """A vector file."""
    return json.loads((ROOT / f"protocol/vectors/{name}.json").read_text())


DEVICE, FRAMES = load("device"), load("frames")


class LinkBench:
    """core/link.c alone."""

    def __init__(self) -> None:
        self.lib = c.CDLL(str(LIBRARIES / "liblinkbench.so"))
        self.lib.bench_log.restype = c.c_char_p
        self.lib.bench_sent.restype = c.POINTER(c.c_uint8)
        self.lib.bench_rx.argtypes = [c.c_char_p, c.c_uint32, c.c_bool]
        self.lib.bench_start()
        self.lib.bench_forget()

    def rx(self, data: bytes, hold: bool = False) -> None:
        """Bytes from the host."""
        self.lib.bench_rx(data, len(data), hold)

    def forget(self) -> None:
        """Forget what was delivered and sent."""
        self.lib.bench_forget()

    def log(self, kind: str) -> list[str]:
        """What was delivered ("deliver") or taken at once ("control")."""
        lines = self.lib.bench_log().decode().splitlines()
        return [line.split(" ", 1)[1] for line in lines if line.startswith(kind)]

    def sent(self) -> list[Any]:
        """Frames sent."""
        count = c.c_uint32()
        data = self.lib.bench_sent(c.byref(count))
        return [parse(raw) for raw in bytes(data[:count.value]).split(b"\0") if raw]


def ask_state() -> bytes:
    """A state request, whose answer's header tells the ack number."""
    return frame(0, 0, 4, MESSAGES["state_request"].id, b"")


@pytest.mark.parametrize("vector", DEVICE["vectors"], ids=lambda v: v["title"])
def test_link(vector: dict[str, Any]) -> None:
    bench = LinkBench()
    if vector["session"]:
        bench.rx(bytes.fromhex(DEVICE["setup"]))
    before = bench.lib.link_damaged()
    bench.forget()
    bench.rx(bytes.fromhex(vector["rx"]), vector["hold"])
    delivered = [line.partition(" ") for line in bench.log("deliver")]
    assert [{"message": BY_ID[int(code, 16)].name, "payload": payload} for code, _, payload in delivered] == vector["deliver"]
    assert bench.log("control") == vector["control"]
    reasons = [REASONS[m.reason] for m in bench.sent() if m.name == "ack"]
    told = [r for r in reasons if r not in ("keep_alive", "room")]
    assert [r for r, _ in itertools.groupby(told)] == [r for r, _ in itertools.groupby(vector["answers"])]
    assert (bench.lib.link_damaged() - before) & 0xFFFF == vector["damaged"]
    bench.forget()
    bench.rx(ask_state())
    states = [m for m in bench.sent() if m.name == "state"]
    assert [m.ack for m in states] == ([vector["expected"]] if vector["session"] else [])


@pytest.mark.parametrize("vector", FRAMES["vectors"], ids=lambda v: v["title"])
def test_frame_is_built(vector: dict[str, Any]) -> None:
    lib = LinkBench().lib
    header = bytes([vector["seq"], vector["ack"], vector["room"], vector["id"]])
    payload = bytes.fromhex(vector["payload"])
    writer = c.create_string_buffer(512)
    lib.frame_begin(writer, header, payload, len(payload))
    lib.frame_build.restype = c.c_bool
    while not lib.frame_build(writer, 7):
        pass
    wire = bytes.fromhex(vector["wire"])
    assert writer.raw[:len(wire)] == wire


def test_crc_check_value() -> None:
    """CRC-16/IBM-3740 of "123456789" is 29B1: CRC RevEng's catalogue of parametrised CRC algorithms."""
    lib = LinkBench().lib
    lib.frame_crc.restype = c.c_uint16
    crc = 0xFFFF
    for byte in b"123456789":
        crc = lib.frame_crc(crc, byte)
    assert crc == 0x29B1
