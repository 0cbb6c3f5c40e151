"""Hello, state, halt, lease, the order of messages, flow control: core/session.c and core/link.c behind a whole device."""
from __future__ import annotations

import random

from cobs import cobs
from hardware import wiring

from .host import MESSAGES, SPEC, TIMING, Host, Message, mask, number, parse, step
from .world import World

POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)


def parse_or_none(raw: bytes) -> Message | None:
    """A frame, or None where it is not whole."""
    try:
        return parse(bytes(raw))
    except (AssertionError, cobs.DecodeError):
        return None


def test_welcome_says_who_it_is(world: World) -> None:
    world.lib.port_pc_set_serial(0xCAFE1234)
    world.reset(8)
    host = Host(world, boot=False)
    welcome = host.hello(0xBEEF)
    assert welcome.magic == b"SAGB"
    assert (welcome.nonce, welcome.serial, welcome.reset_cause, welcome.positions) == (0xBEEF, 0xCAFE1234, 8, 24)
    assert welcome.wiring_id == wiring.load().id
    world.lib.port_pc_set_serial(0xFFFFFFFF)


def test_hello_of_another_api_level_is_answered(world: World) -> None:
    host = Host(world)
    host.control("hello", bytes([99, 1, 0]))
    assert host.wait("welcome").nonce == 1


def test_a_hello_in_the_midst_of_a_frame_is_answered_by_a_whole_one(host: Host, world: World) -> None:
    """What is cut off ends with a delimiter, or its rest and the welcome would be one damaged frame."""
    cut_off = 0
    for late_us in range(0, 6000, 500):
        host.mute = True                              # a window of readings stays unacknowledged
        host.begin([step("scan", mask=mask(*range(1, 25)), repeats=1)] * 8, late_us)
        for _ in range(150):
            host.turn()
        at, host.expected = len(world.sent), 0
        host.control("ack", bytes([number("gap", "ack_reason")]))     # all of it is sent again: some 8 ms
        world.run(late_us)
        host.control("hello", bytes([SPEC.protocol["api_level"], 9, 0]))
        world.run(20_000)
        *before, last = [raw for raw in world.sent[at:].split(b"\0") if raw]
        welcome = parse(bytes(last))
        assert (welcome.name, welcome.nonce) == ("welcome", 9)
        cut_off += any(parse_or_none(raw) is None for raw in before)
        host.at = len(world.sent)
        host.hello()
    assert cut_off >= 6


def test_state_at_rest(host: Host) -> None:
    state = host.state()
    assert state.fields | {"uptime_ms": 0} == {
        "faults": 0, "powered": 0, "pass_running": 0, "registers_enabled": 1, "button": 0, "verified": 0,
        "frames_damaged": 0, "stack_free": 0, "uptime_ms": 0}


def test_uptime_runs_in_milliseconds(host: Host, world: World) -> None:
    before, at = host.state().uptime_ms, world.now_us
    world.run(500_000)
    assert abs(host.state().uptime_ms - before - (world.now_us - at) / 1000) < 5


def test_button(host: Host, world: World) -> None:
    world.button = True
    assert host.state().button == 1


def test_serial_number_is_stored(host: Host, world: World) -> None:
    host.numbered("serial_set", (0x01020304).to_bytes(4, "little"))
    host.wait("state")
    assert host.hello(7).serial == 0x01020304
    host.numbered("serial_set", b"\xff" * 4)          # the mark of "never set" is no serial number
    host.wait("state")
    assert host.hello(8).serial == 0x01020304
    world.lib.port_pc_set_serial(0xFFFFFFFF)


def test_pass_without_readings(host: Host) -> None:
    result = host.run(step("idle"), step("settle", us=1000))
    assert result.status == "complete"
    assert (result.done.steps, result.done.readings, result.done.conversions) == (3, 0, 0)
    assert 1000 <= result.done.elapsed_us < 1300


def test_busy_and_repeated(host: Host) -> None:
    host.numbered("pass_begin", (5).to_bytes(2, "little"))
    host.numbered("pass_begin", (6).to_bytes(2, "little"))
    host.numbered("steps", step("end"))
    result = host.finish()
    assert result.kinds == ["busy"] and result.events[0].pass_id == 5 and result.events[0].value == 6
    host.numbered("pass_begin", (5).to_bytes(2, "little"))
    assert host.wait("event").kind == number("pass_repeated", "event_kind")
    assert host.state().pass_running == 0


def test_steps_without_a_pass_are_dropped(host: Host, world: World) -> None:
    host.numbered("steps", step("pin", position=3, lines=1, high=1) + step("end"))
    host.turn()
    host.turn(50_000)
    assert host.acked == 1 and not world.lines()


def test_bad_steps(host: Host) -> None:
    good = step("read", source="vref", repeats=2)
    for bad in (b"\xee", step("pin", position=25, lines=1, high=1), step("read", source="k", repeats=0), step("settle", us=9)[:2]):
        host.begin([good, bad])
        result = host.finish()
        assert result.status == "bad_step" and result.kinds == ["bad_step"], bad
        assert result.events[0].value == bad[0]
        assert result.readings == [1024], "what was read before has been sent"
        assert result.done.steps == 1


def test_halt_ends_a_pass_and_turns_everything_off(host: Host, world: World) -> None:
    host.begin([POWER, step("drive", m_on=mask(1, 2), m_high=mask(1), s_on=0, s_high=0),
                *[step("settle", us=60000)] * 20])
    for _ in range(60):
        host.turn()
    assert world.powered and world.lines() == {"M1": 1, "M2": 0}
    host.control("halt")
    state = host.wait("state")
    assert state.powered == 0 and state.faults == 0
    assert not world.powered and "M1" not in world.lines()
    result = host.finish()
    assert result.status == "halted"
    assert host.run(step("read", source="vref", repeats=1)).status == "complete"


def test_hello_forgets_a_pass(host: Host, world: World) -> None:
    host.begin([POWER, *[step("settle", us=60000)] * 20])
    for _ in range(60):
        host.turn()
    assert world.powered
    host.hello(77)
    assert not world.powered
    host.turn(100_000)
    assert not any(m.name == "pass_done" for m in host.taken)
    assert host.run(step("read", source="vref", repeats=1), pass_id=1).readings == [512]


def test_silence_takes_the_power_and_the_session_goes_on(host: Host, world: World) -> None:
    """No word for silence_ms: unpowered, the fault latched, an event; no pass runs, powered or not, until it is cleared."""
    assert host.run(POWER).status == "complete"
    at = host.said_at
    while world.powered:
        world.run(200)
        assert world.now_us - at < 60_000
    assert world.now_us - at > 1000 * TIMING["silence_ms"]
    world.run(20_000)
    assert not world.lines()
    state = host.state()
    assert state.faults == number("silence", "fault") and not state.powered
    (event,) = (m for m in host.taken if m.name == "event")
    assert (event.kind, event.pass_id, event.position) == (number("silence", "event_kind"), 0, 0)
    host.taken.clear()
    samples = len(world.samples)
    for code in ([step("read", source="vref", repeats=1)], [POWER], [step("power_off"), step("read", source="vref", repeats=1)]):
        refused = host.run(*code)
        assert (refused.status, refused.kinds, refused.readings) == ("fault", ["silence"], [])
        assert not world.powered
    assert len(world.samples) == samples
    host.numbered("clear_faults")
    assert host.wait("state").faults == 0
    assert host.run(POWER, pass_id=40).status == "complete"


def test_silence_in_mid_pass_ends_it(host: Host, world: World) -> None:
    """The readings until then have been sent, the rest of the steps is dropped, and no reading is made up."""
    host.begin([POWER, *[step("read", source="vref", repeats=64)] * 200, step("end")])
    while not world.powered:
        host.turn()
    for _ in range(100):
        host.turn()
    at = world.now_us
    while world.powered:
        world.run(200)
        assert world.now_us - at < 60_000
    result = host.finish()
    assert (result.status, result.kinds) == ("fault", ["silence"])
    assert 1 < len(result.readings) < 100 and set(result.readings[1:]) == {64 * 512}


def test_silence_is_no_matter_without_power(host: Host, world: World) -> None:
    """A pass that powers nothing goes on, and there is no fault."""
    host.begin([step("settle", us=60_000)] * 4 + [step("read", source="vref", repeats=1), step("end")])
    for _ in range(20):
        host.turn()
    world.run(1000 * TIMING["silence_ms"] * 3)
    result = host.finish()
    assert (result.status, result.readings) == ("complete", [512])
    assert host.state().faults == 0


def test_hello_forgives_silence(host: Host, world: World) -> None:
    assert host.run(POWER).status == "complete"
    world.run(100_000)
    assert not world.powered and host.state().faults == number("silence", "fault")
    host.hello(9)
    assert host.state().faults == 0
    assert host.run(POWER, pass_id=1).status == "complete"


def test_lease(host: Host, world: World) -> None:
    """A host that has been silent for lease_ms is forgotten."""
    assert host.run(step("read", source="vref", repeats=1)).status == "complete"
    world.run(1000 * TIMING["lease_ms"] - (world.now_us - host.said_at) - 50_000)
    assert host.state().faults == 0
    world.run(1000 * TIMING["lease_ms"] + 50_000)
    count = len(world.sent)
    host.control("state_request")
    world.run(50_000)
    assert len(world.sent) == count, "no session, no answer"
    host.hello(3)
    assert host.state().faults == 0
    assert host.run(POWER).status == "complete"


def test_a_word_now_and_then_keeps_the_power(host: Host, world: World) -> None:
    assert host.run(POWER).status == "complete"
    for _ in range(200):
        host.turn(25_000)
    assert world.powered and host.state().faults == 0


def test_a_host_that_takes_nothing_stops_the_pass_and_loses_nothing(host: Host, world: World) -> None:
    host.mute = True
    host.begin([step("scan", mask=0xFFFFFF, repeats=1)] * 60 + [step("end")])
    for _ in range(3000):
        host.turn(100)
        if host.world.now_us - host.said_at > 300_000:
            host.put(b"\0")
    held = len(world.samples)
    host.turn(50_000)
    assert len(world.samples) == held, "no room: the device must wait"
    host.mute = False
    host.control("ack", b"\1")
    result = host.finish()
    assert result.status == "complete" and len(result.readings) == 60 * 24


def test_lost_frames_are_sent_again(host: Host) -> None:
    """A third of the frames from the device is lost on the way, by lot (each third one could be the same one again
    and again, when three are left); all readings come once and in order."""
    take, dice = host._take, random.Random(3)
    host._take = lambda m: take(m) if not (MESSAGES[m.name].numbered and dice.random() < 1 / 3) else None  # type: ignore
    host.begin([step("scan", mask=0xFFFFFF, repeats=1)] * 30 + [step("end")])
    result = host.finish(60_000_000)
    assert len(result.readings) == 30 * 24 and result.done.readings == 30 * 24


def test_damage_from_the_host_is_told_and_counted(host: Host) -> None:
    host.put(b"\x05rubbish\0")
    host.turn(5000)
    assert host.acks[-1].reason == number("damaged", "ack_reason")
    assert host.state().frames_damaged == 1


def test_framing_error_spoils_the_frame(host: Host, world: World) -> None:
    world.lib.port_pc_break_byte()
    host.control("state_request")
    host.turn(10_000)
    assert not any(m.name == "state" for m in host.taken)
    assert host.state().frames_damaged == 1


def test_halt_drops_what_still_waits(host: Host, world: World) -> None:
    """A second pass that has come already, behind one that runs, must not begin after the halt."""
    host.begin([step("settle", us=60_000), step("end")])
    host.begin([POWER, step("end")])
    for _ in range(10):
        host.turn(2000)
    assert not host.queue, "all has been taken"
    host.control("halt")
    assert host.wait("state").pass_running == 0
    for _ in range(100):
        host.turn(1000)
        assert not world.powered
    assert host.finish().status == "halted"
    assert host.run(POWER).status == "complete", "the next one begins as ever"
