"""What must hold when something dies: chip unpowered within 100 ms, strong drives off within 60 ms, on the virtual rails.

The main loop hangs, the controller is reset, its clock stands still, the serial line is jammed: in the midst of every
kind of strong load. A host that falls silent is noticed 50 ms after its last word (spec file, `silence_ms`), and whoever
sees it die can send `halt`, which is taken at once whatever came before.

Watchdog and dead-man are independent: the watchdog's own 128 kHz oscillator resets the ports even if the crystal has
stopped (ATmega2560 data sheet, "Resetting the AVR": no clock is required), which the simulator does not show.
"""
from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from virtual_fixture.bench import Bench, PlainChip

from .host import MESSAGES, Host, frame, mask, number, step
from .line import Image

pytestmark = pytest.mark.image
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=800)
AVCC = step("reference", reference="avcc")
UNPOWERED_MS, STRONG_MS = 100.0, 60.0
STRAY = b"\x55" * 60                       # no frame, and no end of one

# What the device is busy with when it happens: steps that go on for a second.
BUSY = {
    "strong drive": [step("verify", position=1), step("pin", position=1, lines=3, high=1), *[step("settle", us=50_000)] * 20],
    "load": [step("load", position=2, lines=3, load=0, high=1, also=7, repeats=64, settle_us=500)] * 70,
    "heavy load": [step("load", position=2, lines=3, load=5, high=1, also=0, repeats=16, settle_us=5000)] * 150,
    "load_scan": [step("load_scan", mask=mask(2, 9, 10), high=mask(2, 9), lines=2, load=0, repeats=5, settle_us=0)] * 600,
}


@pytest.fixture
def bench() -> Iterator[Bench]:
    """An inverter between positions 1 and 2 and two outputs, supplied at 24 and 7; nothing may be hurt."""
    chip = PlainChip().inverter(1, 2, 24, 7, 30.0).resistor(24, 7, 1000.0).resistor(1, 7, 100e3)
    chip.resistor(9, 7, 60.0).resistor(10, 24, 60.0)
    with Bench(chip=chip, seed=11) as made:
        yield made
        assert not made.trouble
        assert not made.violations, [str(v) for v in made.violations]


def busy(bench: Bench, what: str) -> Host:
    """A host whose device is in the midst of it, and a strong line drives."""
    host = Host(Image(bench))
    host.begin([POWER, AVCC, *BUSY[what], step("end")])
    for _ in range(200):
        host.turn()
    for _ in range(2000):
        if strong(bench):
            break
        bench.run(20e-6)
    assert bench.powered and strong(bench)
    return host


def strong(bench: Bench) -> bool:
    """Some strong line drives a level (the discharge of an unpowered chip pulls low, which is meant)."""
    return any(bench.drive.strong)


def gone_ms(bench: Bench) -> tuple[float, float]:
    """From now: until unpowered, until no strong line drives under power."""
    start, off, loose = bench.now_s, None, None
    while bench.now_s - start < 0.2 and (off is None or loose is None):
        bench.run(50e-6)
        now = (bench.now_s - start) * 1000
        if off is None and not bench.powered:
            off = now
        if loose is None and (not bench.powered or not strong(bench)):
            loose = now
    assert off is not None and loose is not None, "it never went off"
    return off, loose


EVENTS: dict[str, Callable[[Bench], object]] = {
    "main loop stuck": lambda bench: bench.spin(),
    "reset": lambda bench: bench.reset(),
}


@pytest.mark.parametrize("what", BUSY)
@pytest.mark.parametrize("event", EVENTS)
def test_main_loop_stuck_and_reset(bench: Bench, event: str, what: str) -> None:
    busy(bench, what)
    EVENTS[event](bench)
    off, loose = gone_ms(bench)
    assert off < UNPOWERED_MS and loose < STRONG_MS
    image = Image(bench)
    image.run(40_000)
    for _ in range(150):                   # it has started again, and stays off
        image.run(1000)
        assert not bench.powered and not any(bench.drive.medium) and not strong(bench)


@pytest.mark.parametrize("what", BUSY)
def test_main_loop_stuck_is_reset_in_time(bench: Bench, what: str) -> None:
    """The watchdog alone: ports are free, whatever the dead-man does."""
    busy(bench, what)
    bench.spin()
    start = bench.now_s
    while strong(bench) and bench.now_s - start < 0.2:
        bench.run(50e-6)
    assert bench.now_s - start < STRONG_MS / 1000


@pytest.mark.parametrize("what", BUSY)
def test_frozen_clock(bench: Bench, what: str) -> None:
    """Even if no watchdog bites: the dead-man lets go of the supply within its 40 ms, and a strong line then pulls at
    an unpowered chip only."""
    busy(bench, what)
    start = bench.now_s
    for _ in range(1000):
        bench.freeze(100e-6)
        bench.run(100e-6)
        if not bench.powered:
            break
    assert not bench.powered and bench.now_s - start < 0.045
    bench.forgive()                        # a strong line that stood on the frozen controller's pin


@pytest.mark.parametrize("what", BUSY)
def test_jammed_serial_line(bench: Bench, what: str) -> None:
    """The host takes nothing and sends rubbish without end: the loop still turns, and a `halt` is heard at once."""
    host = busy(bench, what)
    for _ in range(200):
        bench.write(STRAY)
        bench.run(len(STRAY) * 20e-6)
    halt = b"\0" + frame(77, 0, 4, MESSAGES["halt"].id, b"")
    bench.write(halt)
    off, loose = gone_ms(bench)
    assert off < 10 and loose < 10
    assert not bench.trouble
    host.mute = True


@pytest.mark.parametrize("what", BUSY)
def test_host_dies_in_the_midst_of_a_frame(bench: Bench, what: str) -> None:
    """Half a frame, then somebody else's `halt`: off within 5 ms."""
    busy(bench, what)
    bench.write(frame(5, 0, 4, MESSAGES["steps"].id, step("settle", us=1) * 20)[:17])
    bench.run(3e-3)
    bench.write(b"\0" + frame(0, 0, 0, MESSAGES["halt"].id, b""))
    off, loose = gone_ms(bench)
    assert off < 5 and loose < 5


@pytest.mark.parametrize("what", BUSY)
def test_host_falls_silent(bench: Bench, what: str) -> None:
    """50 ms after its last word, to the ms of the main loop, whatever it is busy with."""
    host = busy(bench, what)
    host.control("ack", b"\0")
    said = bench.now_s
    while bench.powered and bench.now_s - said < 3:
        bench.run(1e-3)
    assert 0.049 < bench.now_s - said < 0.054
    bench.run(10e-3)
    assert not strong(bench)
    assert host.state().faults == number("silence", "fault")
