"""The derived halves say the same: C compiled and called, against construct and against bytes worked by hand.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ctypes
import dataclasses
import json
import random
import subprocess
from pathlib import Path

import pytest

from protocol import derive, emit, spec
from sagbench.wire import messages, numbers, steps
from sagbench.wire.layout import BadMessage

ROOT = Path(__file__).resolve().parents[2]
SPEC = spec.load()
C = {"u8": ctypes.c_uint8, "u16": ctypes.c_uint16, "u24": ctypes.c_uint32, "u32": ctypes.c_uint32}


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    """protocol.c as the firmware gets it, compiled for this machine with all warnings as errors."""
    out = tmp_path_factory.mktemp("gen") / "libprotocol.so"
    subprocess.run(["gcc", "-std=gnu11", "-O1", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-shared", "-fPIC",
                    "-o", out, ROOT / "firmware/gen/protocol.c"], check=True)
    loaded = ctypes.CDLL(str(out))
    loaded.msg_length_ok.restype = ctypes.c_bool
    return loaded


def structure(fields: tuple[spec.Field, ...]) -> type[ctypes.Structure]:
    kinds = [(f.name, C[f.kind] if f.kind in C else ctypes.c_uint8 * f.length) for f in fields if not f.tail]
    return type("S", (ctypes.Structure,), {"_fields_": kinds})


def value(field: spec.Field, dice: random.Random) -> object:
    if field.kind == "bytes":
        return dice.randbytes(field.length)
    if field.enum:
        return dice.choice([v.value for v in SPEC.enums[field.enum]])
    high = field.high if field.high is not None else 256 ** field.size - 1
    return dice.randint(field.low or 0, high)


def test_files_are_current() -> None:
    assert emit.stale(derive.files()) == []


def test_a_stale_file_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = {"a/good": "1\n", "a/old": "1\n"}
    assert emit.run(files, [], "x", tmp_path) == 0
    (tmp_path / "a/old").write_text("2\n")
    assert emit.run(files, ["--check"], "x", tmp_path) == 1
    said = capsys.readouterr().err
    assert "a/old" in said and "a/good" not in said
    assert (tmp_path / "a/old").read_text() == "2\n"


@pytest.mark.parametrize("message", [m for m in SPEC.messages if m.fixed], ids=lambda m: m.name)
def test_c_and_python_pack_alike(library: ctypes.CDLL, message: spec.Message) -> None:
    dice = random.Random(message.name)
    kind = structure(message.fields)
    for _ in range(50):
        values = {f.name: value(f, dice) for f in message.fields if not f.tail}
        tail = {message.tail.name: ()} if message.tail else {}
        python = messages.BY_ID[message.id](**values, **tail).pack()
        record = kind(**{k: (ctypes.c_uint8 * len(v))(*v) if isinstance(v, bytes) else v for k, v in values.items()})
        room = (ctypes.c_uint8 * 128)()
        size = getattr(library, f"msg_{message.name}_pack")(room, ctypes.byref(record))
        assert bytes(room[:size]) == python
        back = kind()
        getattr(library, f"msg_{message.name}_unpack")(ctypes.byref(back), room)
        assert bytes(back) == bytes(record)


@pytest.mark.parametrize("message", SPEC.messages, ids=lambda m: m.name)
def test_c_and_python_agree_on_lengths(library: ctypes.CDLL, message: spec.Message) -> None:
    kind = messages.BY_ID[message.id]
    for length in range(numbers.PAYLOAD_MAX + 3):
        can_be = length == message.fixed if not message.tail else (
            message.fixed <= length <= numbers.PAYLOAD_MAX and (length - message.fixed) % spec.TAILS[message.tail.kind] == 0)
        assert library.msg_length_ok(message.id, length) == can_be, length
        if can_be and not kind.RANGES and not kind.KINDS:
            assert kind.unpack(bytes(length)).pack() == bytes(length)


def test_flags_of_messages(library: ctypes.CDLL) -> None:
    known = {m.id: m for m in SPEC.messages}
    for ident in range(256):
        flags = library.msg_flags(ident)
        if ident in known:
            assert bool(flags & 1) == known[ident].numbered
            assert bool(flags & 2) == (known[ident].sender != "device")
            assert bool(flags & 4) == (known[ident].sender != "host")
        else:
            assert flags == 0


@pytest.mark.parametrize("step", [s for s in SPEC.steps if s.fields], ids=lambda s: s.name)
def test_c_takes_what_python_makes_and_refuses_what_is_out_of_range(library: ctypes.CDLL, step: spec.Step) -> None:
    dice, kind = random.Random(step.name), structure(step.fields)
    unpack = getattr(library, f"step_{step.name}_unpack")
    unpack.restype = ctypes.c_bool
    for _ in range(50):
        values = {f.name: value(f, dice) for f in step.fields}
        made = getattr(steps, step.name)(**values)
        back = kind()
        assert unpack(ctypes.byref(back), made.code[1:])
        assert {f.name: getattr(back, f.name) for f in step.fields} == values
        assert library.step_readings(made.code) & 0xFF == made.readings
        assert steps.parse(made.code) == [made]
    at = 1
    for field in step.fields:
        high = field.high if field.high is not None else max(
            (v.value for v in SPEC.enums.get(field.enum, ())), default=256 ** field.size - 1)
        if high + 1 < 256 ** field.size:
            bad = bytearray(made.code)
            bad[at:at + field.size] = (high + 1).to_bytes(field.size, "little")
            assert not unpack(ctypes.byref(kind()), bytes(bad[1:]))
            with pytest.raises(ValueError, match=field.name):
                getattr(steps, step.name)(**{**values, field.name: high + 1})
        at += field.size


def test_lengths_of_steps(library: ctypes.CDLL) -> None:
    table = (ctypes.c_uint8 * len(SPEC.steps)).in_dll(library, "step_length")
    assert list(table) == [sum(a.size for a in kind.arguments) for kind in steps.KINDS]


def test_bytes_worked_by_hand() -> None:
    """Little-endian, in the order of the table: no program was used for these."""
    assert messages.Hello(1, 0x1234).pack() == bytes([1, 0x34, 0x12])
    assert messages.Readings(2, 0x01020304, (0x0AFF, 1)).pack() == bytes([2, 0, 4, 3, 2, 1, 0xFF, 0x0A, 1, 0])


STEPS = json.loads((ROOT / "protocol/vectors/steps.json").read_text())["vectors"]


@pytest.mark.parametrize("vector", STEPS, ids=lambda v: v["step"])
def test_steps_worked_by_hand(library: ctypes.CDLL, vector: dict) -> None:
    """The golden bytes of each step, in C and in Python."""
    made = getattr(steps, vector["step"])(**vector["arguments"])
    code = bytes.fromhex(vector["code"])
    assert made.code == code and made.readings == vector["readings"] == library.step_readings(code) & 0xFF
    assert steps.parse(code) == [made]
    kind = next(s for s in SPEC.steps if s.name == vector["step"])
    assert kind.length == len(code) - 1
    if kind.fields:
        unpack, back = getattr(library, f"step_{kind.name}_unpack"), structure(kind.fields)()
        unpack.restype = ctypes.c_bool
        assert unpack(ctypes.byref(back), code[1:])
        assert {f.name: getattr(back, f.name) for f in kind.fields} == vector["arguments"]


def test_each_step_has_its_golden_bytes() -> None:
    assert [v["step"] for v in STEPS] == [s.name for s in SPEC.steps]


@pytest.mark.parametrize(("payload", "why"), [(b"\x01", "length"), (b"\x01\x00\x05\x00\x00", "length")])
def test_bad_payloads_are_refused(payload: bytes, why: str) -> None:
    with pytest.raises(BadMessage, match=why):
        messages.PassBegin.unpack(payload)


def test_unknown_values_and_ranges_are_refused() -> None:
    done = messages.PassDone(1, numbers.PassStatus.FAULT, 1, 2, 3, 4)
    assert messages.PassDone.unpack(done.pack()) == done
    broken = bytearray(done.pack())
    broken[2] = 99
    with pytest.raises(ValueError, match="status 99 is unknown"):
        messages.PassDone.unpack(bytes(broken))
    event = messages.Event(1, numbers.EventKind.SHORT, 24, 0, 0).pack()
    with pytest.raises(ValueError, match="position 25"):
        messages.Event.unpack(event[:3] + b"\x19" + event[4:])
    assert all(dataclasses.is_dataclass(kind) for kind in messages.BY_ID.values())


@pytest.mark.parametrize(("old", "new", "says"), [
    ('id = 0x81', 'id = 0x01', "has the number of hello"),
    ('type = "u24", doc = "positions that `verify`', 'type = "u25", doc = "positions that `verify`', "u25"),
    ('readings = "bits(mask)"', 'readings = "bits(mosk)"', "mosk"),
    ('code = 0x11\n', 'code = 0x7F\n', "without holes"),
    ('name = "repeats", type', 'name = "from", type', "Python's own"),
    ('enum = "source"', 'enum = "sauce"', "sauce"),
])
def test_a_spec_that_contradicts_itself_is_refused(old: str, new: str, says: str) -> None:
    text = spec.PATH.read_text()
    assert old in text
    with pytest.raises(spec.SpecError, match=says):
        spec.parse(text.replace(old, new, 1))
