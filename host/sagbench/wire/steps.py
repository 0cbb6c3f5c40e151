# Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.
# SPDX-License-Identifier: MIT

"""Steps of a pass: one function each, giving a Step with `.code` and `.readings`.

An argument out of its range is a ValueError.  A bit of a mask is a position, bit 0 = position 1.
"""

from __future__ import annotations

from sagbench.wire.layout import Argument, Step, StepKind, bits, split
from sagbench.wire.numbers import LineLevel, Reference, Source

KINDS = (
    StepKind("end", 0x00, (), lambda **_: 0),
    StepKind("idle", 0x01, (), lambda **_: 0),
    StepKind("drive", 0x02, (
        Argument("m_on", 3, 0, 16777215),
        Argument("m_high", 3, 0, 16777215),
        Argument("s_on", 3, 0, 16777215),
        Argument("s_high", 3, 0, 16777215),
    ), lambda **_: 0),
    StepKind("levels", 0x03, (
        Argument("high", 3, 0, 16777215),
    ), lambda **_: 0),
    StepKind("pin", 0x04, (
        Argument("position", 1, 1, 24),
        Argument("lines", 1, 0, 3),
        Argument("high", 1, 0, 1),
    ), lambda **_: 0),
    StepKind("sense", 0x05, (
        Argument("position", 1, 0, 24),
        Argument("load", 1, 0, 7),
        Argument("ld", 1, 0, 2),
    ), lambda **_: 0),
    StepKind("reference", 0x06, (
        Argument("reference", 1, 0, 2),
    ), lambda **_: 0),
    StepKind("settle", 0x07, (
        Argument("us", 2, 0, 65535),
    ), lambda **_: 0),
    StepKind("read", 0x08, (
        Argument("source", 1, 0, 3),
        Argument("repeats", 1, 1, 64),
    ), lambda **_: 1),
    StepKind("scan", 0x09, (
        Argument("mask", 3, 0, 16777215),
        Argument("repeats", 1, 1, 64),
    ), lambda mask, **_: bits(mask)),
    StepKind("load", 0x0A, (
        Argument("position", 1, 1, 24),
        Argument("lines", 1, 0, 3),
        Argument("load", 1, 0, 7),
        Argument("high", 1, 0, 1),
        Argument("also", 1, 0, 24),
        Argument("repeats", 1, 1, 64),
        Argument("settle_us", 2, 0, 5000),
    ), lambda also, **_: 1 + (also != 0)),
    StepKind("power_on", 0x0B, (
        Argument("supply", 1, 1, 24),
        Argument("supply_2", 1, 0, 24),
        Argument("ground", 1, 0, 24),
        Argument("limit", 2, 0, 1023),
    ), lambda **_: 1),
    StepKind("power_off", 0x0C, (), lambda **_: 0),
    StepKind("level", 0x0D, (
        Argument("code", 2, 0, 1023),
    ), lambda **_: 0),
    StepKind("verify", 0x0E, (
        Argument("position", 1, 1, 24),
    ), lambda **_: 2),
    StepKind("pulse", 0x0F, (
        Argument("position", 1, 1, 24),
        Argument("count", 2, 1, 65535),
    ), lambda **_: 0),
    StepKind("ground", 0x10, (
        Argument("position", 1, 0, 24),
    ), lambda **_: 0),
    StepKind("load_scan", 0x11, (
        Argument("mask", 3, 0, 16777215),
        Argument("high", 3, 0, 16777215),
        Argument("lines", 1, 0, 3),
        Argument("load", 1, 0, 7),
        Argument("repeats", 1, 1, 64),
        Argument("settle_us", 2, 0, 5000),
    ), lambda mask, **_: bits(mask)),
    StepKind("ramp", 0x12, (
        Argument("position", 1, 1, 24),
        Argument("watch", 1, 1, 24),
        Argument("first", 2, 0, 1023),
        Argument("last", 2, 0, 1023),
        Argument("step_us", 2, 50, 65535),
        Argument("repeats", 1, 1, 64),
        Argument("settle_us", 2, 0, 65535),
    ), lambda **_: 3),
    StepKind("lines_read", 0x13, (), lambda **_: 2),
    StepKind("deadman", 0x14, (
        Argument("high", 1, 0, 1),
    ), lambda **_: 2),
    StepKind("registers", 0x15, (
        Argument("pattern", 3, 0, 16777215),
    ), lambda **_: 2),
    StepKind("supply_span", 0x16, (), lambda **_: 4),
    StepKind("one_shot", 0x17, (
        Argument("trigger", 1, 1, 24),
        Argument("watch", 1, 1, 24),
        Argument("again", 1, 0, 16),
    ), lambda **_: 2),
)


def end() -> Step:
    """The pass is complete. Power and lines stay as they are (the host must go on speaking)."""
    return KINDS[0x00].make()


def idle() -> Step:
    """All S and M lines and LD off, K tied to nothing. Power stays."""
    return KINDS[0x01].make()


def drive(m_on: int, m_high: int, s_on: int, s_high: int) -> Step:
    """Set every line. A bit is a position, bit 0 = position 1. Lines change in the order: those that go off, then
    levels, then those that come on.

    m_on: positions whose M line drives (0..0xFFFFFF)
    m_high: of these, high (0..0xFFFFFF)
    s_on: positions whose S line drives (0..0xFFFFFF)
    s_high: of these, high (0..0xFFFFFF)
    """
    return KINDS[0x02].make(m_on=m_on, m_high=m_high, s_on=s_on, s_high=s_high)


def levels(high: int) -> Step:
    """New levels for the lines that drive, both M and S; off ones stay off.

    high: positions to be high (0..0xFFFFFF)
    """
    return KINDS[0x03].make(high=high)


def pin(position: int, lines: int, high: int) -> Step:
    """One position's lines.

    position: which (1..24)
    lines: bit 0: M drives, bit 1: S drives; 0: both off (0..3)
    high: level (0..1)
    """
    return KINDS[0x04].make(position=position, lines=lines, high=high)


def sense(position: int, load: int, ld: LineLevel) -> Step:
    """What node K is tied to, and what the load selector ties to K. With load 0 K is tied to ground for some
    microseconds before a position, so that it remembers nothing of the one before.

    position: 0: none (0..24)
    load: channel of the load selector (0..7)
    ld: level of the LD line (LineLevel)
    """
    return KINDS[0x05].make(position=position, load=load, ld=ld)


def reference(reference: Reference) -> Step:
    """The converter's reference; waits until AREF has settled if it changes.

    reference: which (Reference)
    """
    return KINDS[0x06].make(reference=reference)


def settle(us: int) -> Step:
    """Wait.

    us: how long (0..65535 us)
    """
    return KINDS[0x07].make(us=us)


def read(source: Source, repeats: int) -> Step:
    """One reading: the sum of so many conversions of one channel.

    source: converter channel (Source)
    repeats: conversions (1..64)

    Readings: 1.
    """
    return KINDS[0x08].make(source=source, repeats=repeats)


def scan(mask: int, repeats: int) -> Step:
    """One reading a position of the mask, from position 1 up: K is tied to it (from ground, as in `sense`, if the load
    selector is open), the load selector and LD stay as they are; K is left at the last.

    mask: positions (0..0xFFFFFF)
    repeats: conversions each (1..64)

    Readings: bits(mask).
    """
    return KINDS[0x09].make(mask=mask, repeats=repeats)


def load(position: int, lines: int, load: int, high: int, also: int, repeats: int, settle_us: int) -> Step:
    """Load one position and read it: K to the position, load on, settle, one conversion to see whether it is shorted
    (event `short`, all its readings FFFF, pass goes on, if so), the reading, with the load still on the reading of
    `also` if not 0, load off. The position's lines are off before and after.

    position: which (1..24)
    lines: bit 0: M, bit 1: S (0..3)
    load: channel of the load selector while `position` is read (0..7)
    high: 1: load to 5 V (the output sinks); 0: to 0 V (it sources) (0..1)
    also: a second position to read under the same lines (load selector open), or 0 (0..24)
    repeats: conversions each (1..64)
    settle_us: before the first conversion (0..5000 us)

    Readings: 1 + (also != 0).
    """
    return KINDS[0x0A].make(position=position, lines=lines, load=load, high=high, also=also, repeats=repeats,
                            settle_us=settle_us)


def power_on(supply: int, supply_2: int, ground: int, limit: int) -> Step:
    """Check the rails (supply position through the weak load with the ground switch on), then close the switches, wait
    5 ms and read ICC. With ground 0 no rails are checked and only the supply switch closes: the chip has no way
    back to ground, so the reading is the ICC zero with the switch's own base current (all lines must be off; budget
    rules as ever). Event `rail_short`, `over_current` or `power_refused` and pass status `fault` if not. One
    reading on success: ICC, 16 conversions, with avcc as reference; with ground 0 the reference stays what it is,
    so that the zero needs no change to avcc and back.

    supply: a supply position (1..24)
    supply_2: a second one, or 0 (0..24)
    ground: a ground position; 0: none, to take the zero of ICC with a chip in the socket (0..24)
    limit: ICC code (of that reference) above which power goes off again (0..1023 lsb)

    Readings: 1.
    """
    return KINDS[0x0B].make(supply=supply, supply_2=supply_2, ground=ground, limit=limit)


def power_off() -> Step:
    """Lines off, switches off, verified positions forgotten, then all S low for `discharge_ms`, then off."""
    return KINDS[0x0C].make()


def level(code: int) -> Step:
    """The level drive (PWM): code * 5 V / 1024. Settling is the host's to ask for.

    code: duty (0..1023)
    """
    return KINDS[0x0D].make(code=code)


def verify(position: int) -> Step:
    """Powered: drive S low, then high, each under 1 ms, and read K (avcc reference): two readings, one conversion
    each. If the position followed both it is verified until power goes off; else event `not_verified`. The
    position's lines are left off.

    position: which (1..24)

    Readings: 2.
    """
    return KINDS[0x0E].make(position=position)


def pulse(position: int, count: int) -> Step:
    """Invert the driven line or lines of a position and back, so many times, some 5 us each half.

    position: which (1..24)
    count: pulses (1..65535)
    """
    return KINDS[0x0F].make(position=position, count=count)


def ground(position: int) -> Step:
    """Unpowered only: one ground switch on (the others off), or none. For the contact check.

    position: a ground position, or 0 (0..24)
    """
    return KINDS[0x10].make(position=position)


def load_scan(mask: int, high: int, lines: int, load: int, repeats: int, settle_us: int) -> Step:
    """`load` for one position of the mask after the other, from position 1 up, without `also`: the logic under load in
    one step, so that the converter and not the line sets the pace. Each is loaded, looked at, read and let go
    before the next; a shorted one gives event `short` and reading FFFF, and the rest goes on.

    mask: positions (0..0xFFFFFF)
    high: of these, those loaded to 5 V (the output sinks); the others to 0 V (0..0xFFFFFF)
    lines: bit 0: M, bit 1: S (0..3)
    load: channel of the load selector while a position is read (0..7)
    repeats: conversions each (1..64)
    settle_us: before the first conversion of each (0..5000 us)

    Readings: bits(mask).
    """
    return KINDS[0x11].make(mask=mask, high=high, lines=lines, load=load, repeats=repeats, settle_us=settle_us)


def ramp(position: int, watch: int, first: int, last: int, step_us: int, repeats: int, settle_us: int) -> Step:
    """An input's threshold. K is tied to `position` and the level drive to K, then the lines of both positions go off
    (the input never floats), and the pull-up of `watch`'s M pin comes on, if it is another position, so that an
    output that only sinks is seen to let go; the level is set to `first`, and after `settle_us` it moves towards
    `last`, one code each `step_us`, until the digital input of `watch` (its M line's pin) is no longer what it was
    before the first move. There it stops, and K and VDAC are converted at once. Readings: the code of the level (as
    it is, no sum), K, VDAC. K's first conversion begins within 20 us of the change at the pin, or within 60 us
    where the main loop takes a turn (one in each 500 us). If `last` is reached, it is looked at for `settle_us`
    more; without a change all three are FFFF. Afterwards the level is 0 and K tied to nothing.

    position: the input that is driven (1..24)
    watch: the output that is looked at; may be `position` itself, whose answer is the controller's own threshold (1..24)
    first: level code to begin with (0..1023)
    last: level code to end with; below `first` the ramp falls (0..1023)
    step_us: time for each code; the level's filter lags by 3 ms (50..65535 us)
    repeats: conversions of K, and of VDAC (1..64)
    settle_us: at `first`, before the ramp, and at `last` (0..65535 us)

    Readings: 3.
    """
    return KINDS[0x12].make(position=position, watch=watch, first=first, last=last, step_us=step_us, repeats=repeats,
                            settle_us=settle_us)


def lines_read() -> Step:
    """The digital levels of all positions, read through the pins of the M lines within 20 us, lines and K as they are.
    Readings: positions 1..12 (bit 0 = position 1), positions 13..24 (bit 0 = position 13). The threshold is the
    controller's: low below 1.5 V, high above 3 V for certain (data sheet: 0.3 and 0.6 VCC). Settling is the host's
    to ask for.

    Readings: 2.
    """
    return KINDS[0x13].make()


def deadman(high: int) -> Step:
    """Unpowered only: PUMP stands still at a level until OE_N is released, then pumps again until OE_N is low.
    Readings: ms until released, ms until low again; 0 if it was so from the beginning, FFFF if not within 200 ms,
    which latches the fault `dead_man`.

    high: level that PUMP stands at (0..1)

    Readings: 2.
    """
    return KINDS[0x14].make(high=high)


def registers(pattern: int) -> Step:
    """Shift a pattern through the register chain and what was in it after it, without latching: outputs stay as they
    are. Readings: bits 0..11 and bits 12..23 of what came back. Bits 0..7 went through the nearest register, 16..23
    through the farthest.

    pattern: what is shifted (0..0xFFFFFF)

    Readings: 2.
    """
    return KINDS[0x15].make(pattern=pattern)


def supply_span() -> Step:
    """While the chip is powered and avcc is the reference, the firmware converts VREF and ICC now and then between the
    steps, once each time and by turns: after some 27 ms of converting and waiting, and after 2 ms where it costs no
    time (a `settle`, the first `drive` of a pass). Readings: least and greatest code of VREF (greater: the rail
    lower), least and greatest of ICC, since `power_on` or the last `supply_span`; FFFF where nothing has been
    looked at. They outlast `power_off`.

    Readings: 4.
    """
    return KINDS[0x16].make()


def one_shot(trigger: int, watch: int, again: int) -> Step:
    """A monostable's pulse. The driven line or lines of `trigger` go to their other level and, once the pulse is over,
    back; eight times, with turns of the main loop between. After each edge the digital input of `watch` (its M
    line's pin) is looked at each half microsecond without interrupts, 2 us long until the pulse begins and 16 us
    until it ends, then by the clock for 0.85 ms at most; each of the eight times the looks come 1/16 us (a clock)
    later, so that together they lie a clock apart. With `again` the edge is given a second time so many looks after
    the first. Readings: looks at which the pin was not as before the first edge, of all eight: the mean length of
    the pulse in clocks of 1/16 us (with `again`: counted from the first edge to the pulse's end), 0 if none was
    seen; and how many of the eight were seen. A pulse that begins more than 2 us after its edge counts as none.
    FFFE and the number seen so far if the pin has not come back within 30 ms. One edge, not looked at, goes before.
    K, load selector and the other lines stay as they are: a timing resistor is tied by `sense` before.

    trigger: the input whose change to its other level triggers (1..24)
    watch: the output that is looked at (1..24)
    again: 0: one edge; else the second edge comes so many half microseconds after the first, 4 at least (0..16 looks)

    Readings: 2.
    """
    return KINDS[0x17].make(trigger=trigger, watch=watch, again=again)


def parse(code: bytes) -> list[Step]:
    """Step codes back into steps. Raises ValueError at what is no step."""
    return split(code, KINDS)
