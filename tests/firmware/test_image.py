"""The real image, in the virtual fixture: what only the controller itself can show."""
from __future__ import annotations

import statistics
import subprocess
from collections.abc import Iterator

import pytest
from virtual_fixture.bench import Bench, PlainChip

from .host import TIMING, Host, mask, number, step
from .line import Image
from .world import BUILD, ROOT

pytestmark = pytest.mark.image
FLASH_MOST, RAM_MOST, STACK_MOST = 32 * 1024, 4 * 1024, 1024
AVCC = step("reference", reference="avcc")
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=800)


@pytest.fixture(scope="module", autouse=True)
def fixture_built() -> None:
    """The virtual fixture's library is current."""
    subprocess.run(["make", "-s", "-C", str(ROOT / "tests/virtual_fixture")], check=True)


@pytest.fixture
def bench() -> Iterator[Bench]:
    """An inverter between positions 1 and 2, supplied at 24 and 7; nothing may be hurt."""
    chip = PlainChip().inverter(1, 2, 24, 7, 30.0).resistor(24, 7, 1000.0).resistor(1, 7, 100e3)
    with Bench(chip=chip, seed=11) as made:
        yield made
        assert not made.trouble
        assert not made.violations, [str(v) for v in made.violations]


def sizes() -> dict[str, int]:
    """Sections of the image."""
    text = subprocess.run(["avr-size", "-A", str(BUILD / "sagbench.elf")], check=True, capture_output=True, text=True).stdout
    return {w[0]: int(w[1]) for w in (line.split() for line in text.splitlines()) if len(w) == 3 and w[0].startswith(".")}


def test_memory_budget() -> None:
    size = sizes()
    assert size[".text"] + size[".data"] <= FLASH_MOST
    assert size[".data"] + size[".bss"] + size.get(".noinit", 0) <= RAM_MOST


def test_a_whole_pass(bench: Bench) -> None:
    host = Host(Image(bench))
    result = host.run(POWER, AVCC, step("verify", position=1), step("pin", position=1, lines=2, high=0),
                      step("sense", position=2, load=0, ld="off"), step("read", source="k", repeats=4),
                      step("pin", position=1, lines=2, high=1), step("settle", us=100), step("read", source="k", repeats=4),
                      step("load", position=2, lines=2, load=0, high=1, also=7, repeats=4, settle_us=50), step("power_off"))
    assert result.status == "complete" and result.kinds == []
    icc, low, high, rose, fell, loaded, ground = result.readings
    assert low < 224 and high > 800
    assert rose > 4 * 950 and fell < 4 * 20 and loaded > 4 * 80 and 0 <= ground < 4 * 40
    assert icc > 16 * 20
    assert not bench.powered


def test_stack_stays_small(bench: Bench) -> None:
    """High water by painting, after everything that nests deepest: static data + free + used is the RAM."""
    host = Host(Image(bench))
    host.run(POWER, AVCC, step("verify", position=1), *[step("scan", mask=0xFFFFFF, repeats=1)] * 4,
             step("load", position=2, lines=3, load=5, high=1, also=7, repeats=4, settle_us=50), step("power_off"))
    size = sizes()
    static = size[".data"] + size[".bss"] + size.get(".noinit", 0)
    used = 8192 - static - host.state().stack_free
    assert 0 < used <= STACK_MOST


@pytest.mark.parametrize("repeats,most", [(1, 1.12), (8, 1.03)])
def test_the_converter_sets_the_pace(bench: Bench, repeats: int, most: float) -> None:
    """13 clocks of 125 kHz a conversion (data sheet): 104 us."""
    host = Host(Image(bench))
    result = host.run(AVCC, *[step("scan", mask=0xFFFFFF, repeats=repeats)] * 10)
    assert result.done.conversions == 240 * repeats
    assert result.done.elapsed_us / (104 * result.done.conversions) < most


def logic_pass(kind: str, vectors: int) -> list[bytes]:
    """Inputs at positions 1 and 2 (port F and K: the converter's own), outputs at 8..11, five conversions each."""
    outputs = {"mask": mask(8, 9, 10, 11), "repeats": 5}
    scan = {"unloaded": step("scan", **outputs),
            "strong": step("load_scan", high=mask(9, 11), lines=2, load=0, settle_us=0, **outputs),
            "weak": step("load_scan", high=mask(9, 11), lines=0, load=1, settle_us=0, **outputs)}[kind]
    return [step("levels", high=mask(1 + i % 2)) + scan for i in range(vectors)]


@pytest.mark.parametrize("kind", ["unloaded", "strong", "weak"])
def test_a_logic_pass_at_the_converters_pace(kind: str) -> None:
    """New inputs for each scan, and still within 1.10 of the conversions' own time."""
    chip = PlainChip().resistor(24, 7, 1000.0)
    for k in (8, 9, 10, 11):
        chip.resistor(k, 7 if k % 2 else 24, 60.0)
    with Bench(chip=chip, seed=5) as bench:
        host = Host(Image(bench))
        host.run(POWER, AVCC, step("drive", m_on=mask(1, 2, 3), m_high=0, s_on=0, s_high=0))
        result = host.run(*logic_pass(kind, 40))
        assert result.kinds == [] and result.done.conversions == 40 * 20
        assert result.done.elapsed_us / (104 * result.done.conversions) < 1.10


def test_elapsed_is_true(bench: Bench) -> None:
    image = Image(bench)
    host = Host(image)
    at = image.now_us
    result = host.run(*[step("settle", us=50000)] * 20)
    assert 1_000_000 <= result.done.elapsed_us <= image.now_us - at


def test_full_speed_both_ways(bench: Bench) -> None:
    """Steps as fast as the line brings them, readings as fast as they come: no byte is lost."""
    host = Host(Image(bench))
    one = step("drive", m_on=mask(9, 10, 11), m_high=mask(10), s_on=0, s_high=0) + step("read", source="vref", repeats=1)
    result = host.run(*[one] * 300)
    assert result.status == "complete" and len(result.readings) == 300
    assert host.state().frames_damaged == 0


def test_hung_program_is_reset_and_unpowered(bench: Bench) -> None:
    """The watchdog resets it; MCUSR then says 8; the chip is unpowered long before the host sees it."""
    image = Image(bench)
    host = Host(image)
    host.run(POWER)
    assert bench.powered
    image.run(10_000)
    bench.spin()
    image.run(100_000)
    assert not bench.powered
    image.run(200_000)
    welcome = host.hello(5)
    assert welcome.reset_cause == 8
    assert host.state().powered == 0


def test_dead_man_turns_off_what_the_program_does_not(bench: Bench) -> None:
    """The clock stands still, so even the watchdog does: the network lets go of the switches by itself.

    At most 54 ms with the pump capacitor full (ngspice, hardware/spice/RESULTS.md); dead_man_ms = 55 in the wiring file.
    """
    image = Image(bench)
    host = Host(image)
    host.run(POWER)
    image.run(10_000)
    bench.freeze(0.055)
    image.run(55_000)
    assert not bench.powered
    image.run(5_000)
    bench.forgive()
    state = host.state()
    assert state.powered == 0 and state.faults & number("over_current", "fault")


def test_serial_number_survives_a_reset(bench: Bench) -> None:
    image = Image(bench)
    host = Host(image)
    host.numbered("serial_set", (77).to_bytes(4, "little"))
    host.wait("state")
    bench.reset()
    image.run(200_000)
    assert host.hello(2).serial == 77


@pytest.mark.parametrize("k", [1, 6, 9, 13, 18, 23])
def test_strong_line_against_a_short(k: int) -> None:
    """The fixture's own watch sees no strong line that stands against a short for longer than it may."""
    chip = PlainChip().resistor(24, 7, 1000.0).resistor(k, 7, 0.5).resistor(8, 7, 100e3)
    with Bench(chip=chip, seed=5) as bench:
        host = Host(Image(bench))
        result = host.run(POWER, AVCC, step("verify", position=k),
                          step("load", position=k, lines=3, load=5, high=1, also=0, repeats=16, settle_us=5000))
        assert result.kinds == ["not_verified", "short"]
        assert not bench.violations, [str(v) for v in bench.violations]
        assert bench.figures.longest_short_s < 1e-3


@pytest.mark.parametrize("lines", [2, 3])
@pytest.mark.parametrize("k", [3, 10, 16, 22])
def test_contention_on_the_controller(k: int, lines: int) -> None:
    """A verified position is shorted while driven strong: the fixture's watch allows 1 ms."""
    free = PlainChip().resistor(24, 7, 1000.0).resistor(k, 7, 20e3)
    shorted = PlainChip().resistor(24, 7, 1000.0).resistor(k, 7, 0.5)
    with Bench(chip=free, seed=6) as bench:
        image = Image(bench)
        host = Host(image)
        host.begin([POWER, step("verify", position=k), step("pin", position=k, lines=lines, high=1),
                    *[step("scan", mask=mask(20, 21), repeats=64)] * 10, step("end")])
        for _ in range(150):
            host.turn()
        assert bench.powered and not any(m.name == "pass_done" for m in host.taken)
        bench.insert(shorted)
        result = host.finish()
        assert result.kinds == ["contention"] and result.events[0].position == k
        assert not bench.powered
        assert 0 < bench.figures.longest_short_s < 1e-3
        assert not bench.violations, [str(v) for v in bench.violations]


def test_pulses_take_some_five_microseconds_a_half(bench: Bench) -> None:
    result = Host(Image(bench)).run(step("pin", position=9, lines=1, high=0), step("pulse", position=9, count=2000))
    assert 2000 * 8 < result.done.elapsed_us < 2000 * 14


def test_settle_is_never_short(bench: Bench) -> None:
    host = Host(Image(bench))
    for us in (1, 15, 20, 21, 100, 5000):
        assert 20 * us <= host.run(*[step("settle", us=us)] * 20).done.elapsed_us <= 20 * us + 6000


@pytest.mark.parametrize("repeats,settle_us", [(1, 20), (5, 200), (16, 1000)])
def test_load_scan_over_a_short(repeats: int, settle_us: int) -> None:
    """Overlapped or one by one: no strong line stands against the short longer than it may; the others are read."""
    chip = PlainChip().resistor(24, 7, 1000.0).resistor(9, 7, 0.5).resistor(8, 7, 15.0).resistor(10, 7, 15.0)
    with Bench(chip=chip, seed=5) as bench:
        host = Host(Image(bench))
        result = host.run(POWER, AVCC, step("load_scan", mask=mask(8, 9, 10), high=mask(8, 9, 10), lines=2, load=0,
                                            repeats=repeats, settle_us=settle_us))
        assert result.kinds == ["short"] and result.events[0].position == 9 and result.events[0].reading == 2
        _, before, short, behind = result.readings
        assert short == 0xFFFF and before // repeats > 30 and behind // repeats > 30
        assert 0 < bench.figures.longest_short_s < 1e-3
        assert not bench.violations, [str(v) for v in bench.violations]


def test_ramp_finds_a_threshold(bench: Bench) -> None:
    """The inverter's own is half its supply; the level's filter lags, K shows what was there: within 15 mV (the converter may
    be 2 codes off: data sheet, absolute accuracy), up and down."""
    host = Host(Image(bench))
    host.run(POWER, AVCC)
    v5 = bench.truth.nodes["V5"]
    half = (bench.truth.nodes["Z24"] + bench.truth.nodes["Z7"]) / 2
    for begin, end in ((400, 700), (650, 300)):
        code, k, vdac = host.run(step("ramp", position=1, watch=2, first=begin, last=end, step_us=500, repeats=4,
                                      settle_us=20_000)).readings
        assert abs(k / 4 * v5 / 1024 - half) < 0.015 and abs(code - k / 4) < 20
        assert 0 < vdac - k < 4 * 0.03 * 1024 / v5, "the 100 kilohm from the input draws a little through 750 ohm"


@pytest.mark.parametrize("strong", [0, mask(3, 9, 12, 13, 16, 17, 21)])
def test_a_ramp_looks_quickly(bench: Bench, strong: int) -> None:
    """From a change at the pin to the start of the conversion (ADSC, bit 6 of ADCSRA at 7A): spec.toml, `ramp`; also
    while strong lines on seven ports are watched."""
    host = Host(Image(bench))
    low, high = (PlainChip().resistor(24, 7, 1000.0).resistor(1, 7, 100e3).resistor(2, rail, 100.0) for rail in (7, 24))
    host.run(POWER, AVCC, *[step("verify", position=k) for k in range(1, 25) if strong >> (k - 1) & 1],
             step("drive", m_on=strong, m_high=0, s_on=strong, s_high=0))
    late = []
    for trial in range(40):
        bench.insert(low)
        host.begin([step("ramp", position=1, watch=2, first=0, last=1023, step_us=60_000, repeats=1, settle_us=1000),
                    step("end")])
        for _ in range(15):
            host.turn()
        bench.run(1e-3 + 17e-6 * trial)
        bench.insert(high)
        at = bench.now_s
        while not bench.peek(0x7A) & 0x40:
            bench.run(1e-6)
        late.append(bench.now_s - at)
        assert host.finish().readings[0] in (0, 1)
    assert statistics.median(late) < 20e-6 and max(late) < 60e-6


def test_silence_ends_a_ramp(bench: Bench) -> None:
    """Nothing from the host for 50 ms while a ramp of a minute runs."""
    image = Image(bench)
    host = Host(image)
    host.begin([POWER, AVCC, step("ramp", position=1, watch=2, first=0, last=1000, step_us=60_000, repeats=1, settle_us=0)])
    for _ in range(100):
        host.turn()
    assert bench.powered
    image.run(1000 * TIMING["silence_ms"] - (image.now_us - host.said_at) - 1000)
    assert bench.powered
    image.run(3000)
    assert not bench.powered
    assert host.finish().kinds == ["silence"]


def test_lines_read_on_the_controller(bench: Bench) -> None:
    host = Host(Image(bench))
    some = mask(2, 7, 11, 12, 13, 20, 24)
    result = host.run(step("drive", m_on=0xFFFFFF, m_high=some, s_on=0, s_high=0), step("lines_read"))
    assert result.readings == [some & 0xFFF, some >> 12]


@pytest.mark.parametrize("high", [0, 1])
def test_deadman_on_the_network(bench: Bench, high: int) -> None:
    """35..39 ms with the pump capacitor full (ngspice on the same network); wiring file: at most 40."""
    host = Host(Image(bench))
    released, held = host.run(step("deadman", high=high)).readings
    assert 20 < released <= 40 and held < 20
    assert bench.enabled and host.state().faults == 0
    assert host.run(POWER).status == "complete"


def test_registers_on_the_controller(bench: Bench) -> None:
    host = Host(Image(bench))
    for pattern in (0, 0xFFFFFF, 0xA5C396, 0x000001, 0x800000):
        assert host.run(step("registers", pattern=pattern)).readings == [pattern & 0xFFF, pattern >> 12]


def test_a_dip_and_a_lifted_chip_are_seen(bench: Bench) -> None:
    """The rail falls for 40 ms and recovers; the chip is lifted and put back: both within steps that never wait."""
    host = Host(Image(bench))
    usb = bench.drawn["usb.v"]
    host.run(POWER, AVCC, *[step("settle", us=3000)] * 4)
    before = host.run(step("supply_span")).readings
    assert abs(before[0] - before[1]) <= 3 and abs(before[2] - before[3]) <= 3
    host.begin([step("read", source="vref", repeats=8)] * 300 + [step("end")])
    for _ in range(200):
        host.turn()
    bench.usb(usb - 0.4)
    for _ in range(130):
        host.turn()
    bench.usb(usb)
    for _ in range(100):
        host.turn()
    chip = bench._chip
    bench.insert(None)
    for _ in range(130):
        host.turn()
    bench.insert(chip)
    assert host.finish().status == "complete"
    after = host.run(step("supply_span")).readings
    assert after[1] > before[1] + 20 and after[2] < before[2] - 15, "the chip draws 5 mA, 24 codes"


def test_the_level_drive_has_its_duty_exactly() -> None:
    """spec.toml, `level`: code * 5 V / 1024, not a count of the PWM more.  A converter without errors gives half a code
    less on average, for it rounds down."""
    with Bench(nominal=True) as bench:
        host = Host(Image(bench))
        codes = (100, 300, 512, 900)
        sums = host.run(AVCC, *[step("level", code=code) + step("settle", us=30_000) + step("read", source="vdac", repeats=64)
                                for code in codes]).readings
        assert [total / 64 + 0.5 for total in sums] == [pytest.approx(code, abs=0.3) for code in codes]
