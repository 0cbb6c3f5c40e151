"""A very small other end of the wire, for tests of the virtual fixture.

It reads protocol/spec.toml for codes and field widths and shares nothing with the
host package; COBS and CRC come from public packages (cobs 1.2, binascii.crc_hqx).

    client = Client(bench)
    client.hello()
    done = client.run_pass(step("reference", reference=0), step("read", source=3, repeats=16))
    done.readings

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import binascii
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cobs import cobs

from virtual_fixture.bench import Bench

SPEC = tomllib.loads((Path(__file__).resolve().parents[3] / "protocol" / "spec.toml").read_text())
MESSAGES = {m["name"]: m for m in SPEC["message"]}
BY_ID = {m["id"]: m for m in SPEC["message"]}
STEPS = {s["name"]: s for s in SPEC["step"]}
QUIET_S = SPEC["timing"]["presence_ms"]["value"] / 1e3
HERE = SPEC["enum"]["ack_reason"]["here"]["value"]
WIDTH = {"u8": 1, "u16": 2, "u24": 3, "u32": 4}


def step(name: str, **values: int) -> bytes:
    """One step as bytes; every field must be given."""
    spec = STEPS[name]
    assert {f["name"] for f in spec["fields"]} == set(values), f"step {name} wants {spec['fields']}"
    return bytes([spec["code"]]) + b"".join(values[f["name"]].to_bytes(WIDTH[f["type"]], "little")
                                             for f in spec["fields"])


def frame(seq: int, ack: int, room: int, name: str, payload: bytes = b"") -> bytes:
    """A frame ready for the line."""
    raw = bytes([seq & 255, ack & 255, room, MESSAGES[name]["id"]]) + payload
    return bytes(cobs.encode(raw + binascii.crc_hqx(raw, 0xFFFF).to_bytes(2, "big"))) + b"\0"


def unpack(name: str, payload: bytes) -> dict[str, Any]:
    """Fields of a message by name."""
    values: dict[str, Any] = {}
    for f in MESSAGES[name]["fields"]:
        if f["type"] == "u16[]":
            values[f["name"]] = [int.from_bytes(payload[i:i + 2], "little") for i in range(0, len(payload), 2)]
            break
        width = f.get("length", WIDTH.get(f["type"], 0))
        part, payload = payload[:width], payload[width:]
        values[f["name"]] = part if f["type"] == "bytes" else int.from_bytes(part, "little")
    return values


@dataclass
class Pass:
    """What came back of one pass."""

    readings: list[int] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    done: dict[str, Any] = field(default_factory=dict)


class Client:
    """Go-back-N by the book, with the bench's simulated time as its clock."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.rest = bench, b""
        self.expected = self.next = self.acked = self.limit = 0
        self.out: list[tuple[str, bytes]] = []      # every numbered message of the session
        self.inbox: list[tuple[str, dict[str, Any]]] = []
        self.pass_id = 0
        self.sent_at = 0.0

    def _control(self, name: str, payload: bytes = b"") -> None:
        self.bench.write(frame(self.next, self.expected, 4, name, payload))
        self.sent_at = self.bench.now_s

    def _take(self, raw: bytes) -> None:
        seq, ack, room, number = raw[:4]
        assert binascii.crc_hqx(raw, 0xFFFF) == 0, f"damaged frame {raw.hex()}"
        message = BY_ID[number]
        step_on = (ack - self.acked) & 255
        if step_on <= self.next - self.acked:
            self.acked += step_on
        self.limit = self.acked + room
        if message["numbered"]:
            if seq != self.expected & 255:
                return
            self.expected += 1
        self.inbox.append((message["name"], unpack(message["name"], raw[4:-2])))

    def turn(self, seconds: float = 1e-3) -> None:
        """Let time pass, take what came, send what may go; a word at least each 10 ms keeps the chip powered."""
        while seconds > QUIET_S:
            self._turn(QUIET_S)
            seconds -= QUIET_S
        self._turn(seconds)

    def _turn(self, seconds: float) -> None:
        self.bench.run(seconds)
        self.rest += self.bench.read()
        *whole, self.rest = self.rest.split(b"\0")
        before = self.expected
        for part in whole:
            if part:
                self._take(cobs.decode(part))
        while self.next < len(self.out) and self.next < min(self.limit, self.acked + 4):
            name, payload = self.out[self.next]
            self.bench.write(frame(self.next, self.expected, 4, name, payload))
            self.next += 1
            self.sent_at = self.bench.now_s
        if self.bench.now_s - self.sent_at > 0.1 and self.acked < self.next:
            self.next = self.acked
        if self.expected != before or self.bench.now_s - self.sent_at >= QUIET_S:
            self._control("ack", bytes([HERE]))

    def wait(self, name: str, limit_s: float = 2.0) -> dict[str, Any]:
        """The next message of that name; others before it stay in the inbox."""
        end = self.bench.now_s + limit_s
        while self.bench.now_s < end:
            for n, (got, values) in enumerate(self.inbox):
                if got == name:
                    del self.inbox[n]
                    return values
            self.turn()
        raise AssertionError(f"no {name} within {limit_s} s; inbox {self.inbox}, trouble {self.bench.trouble!r}, "
                             f"violations {[str(v) for v in self.bench.violations]}")

    def hello(self, nonce: int = 0x1234) -> dict[str, Any]:
        self.__init__(self.bench)  # type: ignore[misc]  # a new session forgets everything
        self.bench.run(0.02)
        self.bench.read()
        self._control("hello", bytes([SPEC["protocol"]["api_level"]]) + nonce.to_bytes(2, "little"))
        return self.wait("welcome")

    def state(self) -> dict[str, Any]:
        self.inbox = [m for m in self.inbox if m[0] != "state"]
        self._control("state_request")
        return self.wait("state")

    def halt(self) -> None:
        self._control("halt")

    def number(self, name: str, payload: bytes = b"") -> None:
        self.out.append((name, payload))

    def start_pass(self, *steps: bytes, end: bool = True) -> None:
        self.pass_id += 1
        self.number("pass_begin", self.pass_id.to_bytes(2, "little"))
        code = b""
        for one in [*steps, *([step("end")] if end else [])]:
            if len(code) + len(one) > SPEC["frame"]["payload_max"]:
                self.number("steps", code)
                code = b""
            code += one
        if code:
            self.number("steps", code)

    def finish_pass(self, limit_s: float = 5.0) -> Pass:
        result = Pass(done=self.wait("pass_done", limit_s))
        for name, values in self.inbox:
            if name == "readings":
                assert values["first"] == len(result.readings)
                result.readings += values["sums"]
            elif name == "event":
                result.events.append(values)
        self.inbox = []
        return result

    def run_pass(self, *steps: bytes, limit_s: float = 5.0) -> Pass:
        self.start_pass(*steps)
        return self.finish_pass(limit_s)
