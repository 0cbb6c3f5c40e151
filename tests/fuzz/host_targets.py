"""What of the host reads bytes from outside: one function each, which takes any bytes and raises only if something is broken.

Refusals of the program's own are no crashes; what was taken must hold together: written and read again it is the same,
and a wrong file is told with its place.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import atexit
import json
import re
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from sagbench.calibrate import store
from sagbench.calibrate.session import to_plain
from sagbench.cli import settings
from sagbench.errors import PartFileError, UsageError
from sagbench.measure.calibration import Calibration
from sagbench.parts import aliases
from sagbench.parts.lookup import build, load_part
from sagbench.parts.markings import nearest_names, parse_marking
from sagbench.parts.model import Marking, Part
from sagbench.parts.reader import read as read_part
from sagbench.plain import plain
from sagbench.replace import read_place
from sagbench.report import codec
from sagbench.report.page import to_html
from sagbench.wire import messages, numbers
from sagbench.wire.frame import BadFrame, Frame, Splitter, decode, encode, stuff
from sagbench.wire.layout import BadMessage
from sagbench.wire.link import Link

PLACE = re.compile(r"x\.toml:[1-9]\d*:")


def _text(data: bytes) -> str:
    return data.decode("utf-8", "replace")


# ------------------------------------------------------------------ the wire
def frames(data: bytes) -> None:
    """The stream cut into frames: the same however it is cut into chunks; each frame encoded and decoded again is itself."""
    whole = list(Splitter().feed(data))
    by_one = Splitter()
    assert [f for byte in data for f in by_one.feed(bytes([byte]))] == whole
    for frame in whole:
        assert frame is None or decode(encode(frame)[:-1]) == frame
    try:
        frame = decode(stuff(data))
    except BadFrame:
        return
    assert stuff(data) == encode(frame)[:-1]


def wire_messages(data: bytes) -> None:
    """A payload of each kind of message: what is taken packs to the same bytes."""
    kinds = list(messages.BY_ID.values())
    if not data:
        return
    kind = kinds[data[0] % len(kinds)]
    try:
        message = kind.unpack(data[1:])
    except BadMessage:
        return
    assert message.pack() == data[1:]


def link(data: bytes) -> None:
    """A device that does what the bytes say, at the host's end of the line: each operation is a byte and what belongs to it.

    The numbered messages that come out of `take` are those sent in order, whatever is between them.
    """
    end, now, seq, sent, taken = Link(host=True, now=0.0), 0.0, 0, 0, 0
    end.hello(now)
    hello = [f for f in Splitter().feed(end.poll(now)) if f]
    nonce = messages.Hello.unpack(hello[0].payload).nonce
    welcome = messages.Welcome(b"SAGB", numbers.API_LEVEL, nonce, 1, 2, 3, 1, 24)
    end.receive(encode(Frame(0, 0, 4, messages.Welcome.ID, welcome.pack())), now)
    at = 0
    heard = Splitter()
    while at < len(data):
        operation, argument = data[at] % 8, data[at + 1] if at + 1 < len(data) else 0
        at += 2
        some = data[at:at + argument % 100]
        if operation == 0:
            end.receive(some, now)
            at += len(some)
        elif operation in (1, 2):         # a good frame of any message; the next numbered one in order
            ident = sorted(messages.BY_ID)[argument % len(messages.BY_ID)] if operation == 1 else messages.PassDone.ID
            payload = data[at:at + 18] if operation == 1 else messages.PassDone(sent, 0, 0, 0, 0, 0).pack()
            at += len(payload) if operation == 1 else 0
            end.receive(encode(Frame(seq, argument, argument % 5, ident, payload)), now)
            if operation == 2 and end.expected == (seq + 1) % 256:
                seq, sent = (seq + 1) % 256, sent + 1
            elif operation == 1:
                seq = end.expected
        elif operation == 3:
            end.send(messages.PassBegin(argument), now)
        elif operation == 4:
            for message in end.take(argument, now=now):
                if isinstance(message, messages.PassDone) and message.pass_id == taken:
                    taken += 1
        elif operation == 5:
            now += argument / 100
        elif operation == 6:
            for frame in heard.feed(end.poll(now)):
                assert frame is not None, "the host sent a damaged frame"
                kind = messages.BY_ID[frame.id]
                assert kind.FROM_HOST
                kind.unpack(frame.payload)
        else:
            end.hello(now)
            seq = 0
    assert len(end.take(now=now)) <= end.capacity + len(data)


# ------------------------------------------------------------------ files
STATEMENT = '''\
function = "1034"
title = "x"
sources = ["memory"]
[[pinout]]
pins = ["1A", "1Y", "2A", "2Y", "CK", "Q", "GND", "C", "D", "E", "F", "G", "H", "VCC"]
[[block]]
inputs = ["1A", "2A", "CK", "C", "D", "E", "F", "G", "H"]
outputs = ["1Y", "2Y", "Q"]
logic = [%s]
[family.LS]
'''


def _a_part(text: str) -> None:
    try:
        definition = read_part(text, "x.toml", "x.toml")
    except PartFileError as refused:
        assert refused.mistakes and all(PLACE.match(one) for one in refused.mistakes), refused.mistakes
        return
    for family in list(definition.families)[:2]:
        build(definition, Marking("", "", 74, "" if family == "74" else family, definition.function, ""))


def part(data: bytes) -> None:
    """A part file."""
    _a_part(_text(data))


def statements(data: bytes) -> None:
    """Equations, one a line, of a part that is otherwise in order."""
    _a_part(STATEMENT % ", ".join(json.dumps(line) for line in _text(data).split("\n")))


def configuration(data: bytes) -> None:
    """A settings file."""
    try:
        settings.parse(_text(data), Path("x.toml"))
    except PartFileError as refused:
        assert all(PLACE.match(one) for one in refused.mistakes), refused.mistakes


def calibration(data: bytes) -> None:
    """A calibration: what is taken, written and read again is the same."""
    try:
        found = store.parse(_text(data), Path("x.json"))
    except ValueError as refused:
        assert re.match(r"x\.json:[1-9]", str(refused)), refused
        return
    assert isinstance(found, Calibration)
    again = json.dumps({"format": store.FORMAT, "version": store.VERSION, **plain(found)})
    assert store.parse(again, Path("x.json")) == found


def session(data: bytes) -> None:
    """A calibration that is not finished."""
    try:
        found = store.parse_session(_text(data))
    except ValueError:
        return
    to_plain(found)


def record(data: bytes) -> None:
    """A sweep record: what is taken, written and read again is written the same; now and then its page is made."""
    try:
        found = codec.from_json(_text(data), "x.json")
    except codec.RecordFileError as refused:
        assert re.match(r"x\.json:[1-9]", str(refused)), refused
        return
    again = codec.to_json(found)
    assert codec.to_json(codec.from_json(again)) == again
    if len(data) % 16 == 0:
        assert "<script" not in to_html(found)


def marking(data: bytes) -> None:
    """What is printed on a chip."""
    text = _text(data)
    read_as = parse_marking(text)
    assert isinstance(read_as, tuple)
    if data[:1] == b"~":
        nearest_names(text[:40], read_as, ["00", "138", "4011"])


FUNCTIONS = ("00", "04", "138", "4011")
BOARD = ("7400", "74H00", "74LS00", "74LS04", "7404", "SN7404N", "74LS138", "74LS244", "CD4011BE")


@cache
def work() -> Path:
    """A folder for files that only exist while one is read."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    atexit.register(shutil.rmtree, folder, True)
    return folder


def house_numbers(data: bytes) -> None:
    """A file of house numbers."""
    path = work() / "aliases.toml"
    path.write_bytes(data)
    try:
        found = aliases.read(path, FUNCTIONS)
    except PartFileError as refused:
        start = f"{path}:"
        assert refused.mistakes and all(one.startswith(start) and one[len(start)] in "123456789" for one in refused.mistakes), refused.mistakes
        return
    assert all(key == aliases.plain(key) and meant for key, meant in found.items())


@cache
def _found(marking_: str) -> Part:
    return load_part(marking_)


def place(data: bytes) -> None:
    """What a chip drives and what drives it: two texts of the command line and a file, with zero bytes between."""
    drives, driven_by, file = [*(piece.decode("utf-8", "replace") for piece in data.split(b"\0", 2)), "", "", ""][:3]
    part_ = _found("74LS00")
    try:
        found = read_place(part_, _find, [drives], [driven_by], file, "x.toml")
    except (UsageError, PartFileError) as refused:
        assert str(refused).strip()
        return
    pins = {pin.number for pin in part_.pins}
    assert set(found.drives) <= pins and set(found.driven_by) <= pins


def _find(text: str) -> Part:
    """The parts of a board: few, so that the library is not read over and over."""
    if text.upper() not in BOARD:
        raise UsageError(f"{text}: none of these")
    return _found(text.upper())


TARGETS: dict[str, Callable[[bytes], None]] = {
    f.__name__: f for f in (frames, wire_messages, link, part, statements, configuration, calibration, session, record, marking, house_numbers, place)}
