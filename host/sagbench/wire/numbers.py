# Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.
# SPDX-License-Identifier: MIT

"""Numbers of the wire protocol: sizes, times, enumerations."""

from __future__ import annotations

from enum import IntEnum, IntFlag

API_LEVEL = 4
BAUD = 500000

DELIMITER = 0
HEADER_SIZE = 4
PAYLOAD_MAX = 96
WINDOW = 4
BURST = 224
CRC_NAME = "CRC-16/IBM-3740"
CRC_CHECK = 0x29B1
READING_NONE = 0xFFFF                      # not measured

SILENCE_MS = 50                           # no valid frame from the host for so long while the chip is powered: chip unpowered, all lines off, fault `silence` latched; the session goes on
PRESENCE_MS = 10                          # the host sends anything at least so often while the chip is powered, or a pass runs that powers it: `ack` of reason `here` if nothing else
LEASE_MS = 2000                           # no valid frame from the host for so long: all lines off, link forgotten
KEEP_ALIVE_MS = 400                       # the host sends `ack` at least so often
RETRANSMIT_MS = 60                        # a numbered frame without an answer is sent again after this
HELLO_MS = 250                            # the host repeats `hello` after this, until `welcome`
ACK_DELAY_MS = 10                         # a frame taken is acknowledged within this
CONNECT_MS = 4000                         # the host gives up: no device (a controller board restarts when its port is opened)


class AckReason(IntEnum):
    """Ack reason."""

    KEEP_ALIVE = 0            # nothing special
    GAP = 1                   # a frame was not the one expected: send again from ack
    DAMAGED = 2               # a frame was damaged: send again from ack
    ROOM = 3                  # there is room again
    REPEATED = 4              # a frame came that had come before: go on from ack
    HERE = 5                  # the host is there: see `presence_ms`


class LineLevel(IntEnum):
    """Line level."""

    OFF = 0                   # not driven
    LOW = 1                   # 0 V
    HIGH = 2                  # 5 V


class Reference(IntEnum):
    """Reference."""

    AVCC = 0                  # the 5 V rail
    V2V56 = 1                 # the controller's 2.56 V
    V1V1 = 2                  # the controller's 1.1 V


class Source(IntEnum):
    """Source."""

    K = 0                     # node K
    ICC = 1                   # supply current amplifier
    VDAC = 2                  # level drive
    VREF = 3                  # 2.5 V reference


class Fault(IntFlag):
    """Fault."""

    OVER_CURRENT = 1          # ICC above the limit given, or the trip let go of the dead-man
    CONTENTION = 2            # a strong line did not reach its level
    REGISTERS = 4             # the register chain did not return what was shifted
    DEAD_MAN = 8              # OE_N did not follow the pump
    SILENCE = 16              # the host fell silent while the chip was powered


class EventKind(IntEnum):
    """Event kind."""

    BUSY = 1                  # `pass_begin` while a pass runs
    PASS_REPEATED = 2         # `pass_begin` with the number of the last pass
    SHORT = 3                 # `load` found the position shorted; value: code seen
    RAIL_SHORT = 4            # `power_on` found the rails shorted; value: code seen
    OVER_CURRENT = 5          # `power_on` or the trip; value: ICC code
    POWER_REFUSED = 6         # a latched fault, or switches that do not exist; value: faults
    NOT_VERIFIED = 7          # `verify` failed, or S asked for where not verified; value: code seen
    CONTENTION = 8            # a strong line was forced by something else; dropped
    BAD_STEP = 9              # a step that cannot be; value: its code
    OVER_BUDGET = 10          # a drive that could exceed a port group's limit; value: group number
    SILENCE = 11              # power was taken away because the host fell silent while the chip was powered


class PassStatus(IntEnum):
    """Pass status."""

    COMPLETE = 0              # to the end
    HALTED = 1                # by `halt`, or by a new session
    FAULT = 2                 # a safety rule; an event says which
    BAD_STEP = 3              # a step that cannot be
