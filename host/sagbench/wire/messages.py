# Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.
# SPDX-License-Identifier: MIT

"""Messages of the wire protocol."""

from __future__ import annotations

from dataclasses import dataclass

import construct  # type: ignore[import-untyped]

from sagbench.wire.layout import Message, layout
from sagbench.wire.numbers import AckReason, EventKind, Fault, PassStatus


@dataclass(frozen=True)
class Hello(Message):
    """Start a session. The device powers the chip down, unlatches the fault `silence`, forgets both streams and
    answers `welcome`, whatever the host's API level. This message never changes its fields."""

    api_level: int                  # the host's API level
    nonce: int                      # any number; `welcome` repeats it, so that an old answer is known

    ID = 0x01
    NUMBERED = False
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout(api_level=construct.Int8ul, nonce=construct.Int16ul)


@dataclass(frozen=True)
class Welcome(Message):
    """Who the device is. Sent in answer to every `hello`, whatever its API level."""

    magic: bytes                    # the letters SAGB
    api_level: int                  # the device's API level; the fields up to here never move
    nonce: int                      # of the `hello`
    wiring_id: int                  # which build it is: the wiring file the firmware was made from, or its reduced build if the strap pin is tied to ground
    serial: int                     # of this fixture, kept in EEPROM; FFFFFFFF if never set
    version: int                    # of the firmware, major * 256 + minor
    reset_cause: int                # the controller's MCUSR at start: 1 power-on, 2 external, 4 brown-out, 8 watchdog
    positions: int                  # of the socket [positions]

    ID = 0x81
    NUMBERED = False
    FROM_HOST = False
    FROM_DEVICE = True
    LAYOUT = layout(magic=construct.Bytes(4), api_level=construct.Int8ul, nonce=construct.Int16ul,
                    wiring_id=construct.Int32ul, serial=construct.Int32ul, version=construct.Int16ul,
                    reset_cause=construct.Int8ul, positions=construct.Int8ul)


@dataclass(frozen=True)
class Ack(Message):
    """Nothing but the header's ack and room."""

    reason: AckReason               # why it is sent

    ID = 0x02
    NUMBERED = False
    FROM_HOST = True
    FROM_DEVICE = True
    LAYOUT = layout(reason=construct.Int8ul)
    KINDS = {"reason": AckReason}


@dataclass(frozen=True)
class Halt(Message):
    """Everything off now, whatever is under way; a running pass ends with status `halted`. Numbered messages that have
    come before it and still wait are dropped. Answered by `state`."""

    ID = 0x03
    NUMBERED = False
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout()


@dataclass(frozen=True)
class StateRequest(Message):
    """Ask for `state`."""

    ID = 0x04
    NUMBERED = False
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout()


@dataclass(frozen=True)
class State(Message):
    """How the device is."""

    faults: Fault                   # latched faults; while any is set no power comes on
    powered: int                    # 1 while a supply switch is on
    pass_running: int               # 1 between `pass_begin` and `pass_done`
    registers_enabled: int          # 1 while the dead-man holds OE_N low
    button: int                     # 1 while the button is pressed
    verified: int                   # positions that `verify` has found free for strong drive, bit 0 = position 1
    frames_damaged: int             # frames dropped since the start, stays at 65535
    stack_free: int                 # never used between heap and stack, by painting; 0 on a port without [bytes]
    uptime_ms: int                  # since the start [ms]

    ID = 0x84
    NUMBERED = False
    FROM_HOST = False
    FROM_DEVICE = True
    LAYOUT = layout(faults=construct.Int16ul, powered=construct.Int8ul, pass_running=construct.Int8ul,
                    registers_enabled=construct.Int8ul, button=construct.Int8ul, verified=construct.Int24ul,
                    frames_damaged=construct.Int16ul, stack_free=construct.Int16ul, uptime_ms=construct.Int32ul)
    KINDS = {"faults": Fault}
    RANGES = {"powered": (0, 1), "pass_running": (0, 1), "registers_enabled": (0, 1), "button": (0, 1)}


@dataclass(frozen=True)
class ClearFaults(Message):
    """Unlatch faults whose cause is gone. Answered by `state`."""

    ID = 0x05
    NUMBERED = True
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout()


@dataclass(frozen=True)
class SerialSet(Message):
    """Store this fixture's serial number in EEPROM. Answered by `state`."""

    serial: int                     # new serial number, not FFFFFFFF

    ID = 0x06
    NUMBERED = True
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout(serial=construct.Int32ul)


@dataclass(frozen=True)
class PassBegin(Message):
    """A pass starts: its steps follow in `steps`. Refused with event `busy` while one runs, with `pass_repeated` if
    the number is that of the last pass of this session; ended at once while the fault `silence` is latched."""

    pass_id: int                    # the host counts them up within a session

    ID = 0x10
    NUMBERED = True
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout(pass_id=construct.Int16ul)


@dataclass(frozen=True)
class Steps(Message):
    """Whole steps (see the step table), carried out in order as they come. A step is never split over two frames.
    Outside a pass they are dropped, so that what follows a pass ended by a fault does no harm."""

    code: bytes                     # step codes with their arguments

    ID = 0x11
    NUMBERED = True
    FROM_HOST = True
    FROM_DEVICE = False
    LAYOUT = layout(code=construct.GreedyBytes)


@dataclass(frozen=True)
class Readings(Message):
    """Results of reading steps, in order. A reading is the sum of `repeats` conversions; FFFF: not measured (an event
    says why)."""

    pass_id: int                    # of which pass
    first: int                      # index of the first of these readings within the pass
    sums: tuple[int, ...]           # readings [lsb]

    ID = 0x90
    NUMBERED = True
    FROM_HOST = False
    FROM_DEVICE = True
    LAYOUT = layout(pass_id=construct.Int16ul, first=construct.Int32ul, sums=construct.GreedyRange(construct.Int16ul))


@dataclass(frozen=True)
class Event(Message):
    """Something the host must know, in order with the readings."""

    pass_id: int                    # of which pass; 0 outside a pass
    kind: EventKind                 # what
    position: int                   # where; 0 if it belongs to no position
    value: int                      # a code or number that belongs to the kind
    reading: int                    # index of the reading it belongs to, or of the next one

    ID = 0x91
    NUMBERED = True
    FROM_HOST = False
    FROM_DEVICE = True
    LAYOUT = layout(pass_id=construct.Int16ul, kind=construct.Int8ul, position=construct.Int8ul,
                    value=construct.Int16ul, reading=construct.Int32ul)
    KINDS = {"kind": EventKind}
    RANGES = {"position": (0, 24)}


@dataclass(frozen=True)
class PassDone(Message):
    """The pass is over; all its readings and events have been sent before. After any status but `complete` the chip is
    unpowered."""

    pass_id: int                    # of which pass
    status: PassStatus              # how it ended
    steps: int                      # steps carried out
    readings: int                   # readings sent
    conversions: int                # converter cycles that went into readings
    elapsed_us: int                 # from the first step to the end, by the device's clock [us]

    ID = 0x92
    NUMBERED = True
    FROM_HOST = False
    FROM_DEVICE = True
    LAYOUT = layout(pass_id=construct.Int16ul, status=construct.Int8ul, steps=construct.Int32ul,
                    readings=construct.Int32ul, conversions=construct.Int32ul, elapsed_us=construct.Int32ul)
    KINDS = {"status": PassStatus}


BY_ID: dict[int, type[Message]] = {
    0x01: Hello,
    0x81: Welcome,
    0x02: Ack,
    0x03: Halt,
    0x04: StateRequest,
    0x84: State,
    0x05: ClearFaults,
    0x06: SerialSet,
    0x10: PassBegin,
    0x11: Steps,
    0x90: Readings,
    0x91: Event,
    0x92: PassDone,
}
