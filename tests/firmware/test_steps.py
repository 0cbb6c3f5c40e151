"""What each step does to the pins, the registers and the converter."""
from __future__ import annotations

import pytest

from .host import Host, mask, step
from .world import LD, M, S, World

POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)
AVCC = step("reference", reference="avcc")


def test_drive_sets_every_line(host: Host, world: World) -> None:
    host.run(step("drive", m_on=mask(1, 10, 24), m_high=mask(10, 11), s_on=0, s_high=0))
    assert world.lines() == {"M1": 0, "M10": 1, "M24": 0}
    host.run(step("drive", m_on=mask(10, 12), m_high=mask(12), s_on=0, s_high=0))
    assert world.lines() == {"M10": 0, "M12": 1}


@pytest.mark.parametrize("k", range(1, 25))
def test_every_medium_line_and_sense_channel(host: Host, world: World, k: int) -> None:
    result = host.run(AVCC, step("pin", position=k, lines=1, high=1), step("sense", position=k, load=0, ld="off"),
                      step("read", source="k", repeats=1))
    assert world.lines() == {f"M{k}": 1} and world.tied() == k
    assert result.readings == [1023]


def test_levels_leave_off_lines_off(host: Host, world: World) -> None:
    host.run(step("drive", m_on=mask(3, 4), m_high=mask(3), s_on=0, s_high=0), step("levels", high=mask(4, 5)))
    assert world.lines() == {"M3": 0, "M4": 1}


def test_lines_change_off_then_levels_then_on(host: Host, world: World) -> None:
    """1 goes off, 3 changes level, 5 comes on; all on ports of their own registers."""
    host.run(step("drive", m_on=mask(1, 13), m_high=mask(13), s_on=0, s_high=0))
    at = len(world.writes)
    host.run(step("drive", m_on=mask(13, 24), m_high=mask(24), s_on=0, s_high=0))
    seen = [(port, ddr, out) for _, port, ddr, out in world.writes[at:]]
    off = next(i for i, (p, d, _) in enumerate(seen) if p == M[1][0] and not d >> M[1][1] & 1)
    level = next(i for i, (p, _, o) in enumerate(seen) if p == M[13][0] and not o >> M[13][1] & 1)
    on = next(i for i, (p, d, _) in enumerate(seen) if p == M[24][0] and d >> M[24][1] & 1)
    assert off < level < on
    assert seen[on][2] >> M[24][1] & 1, "the level is there before the line comes on"


def test_no_pull_up_is_left_behind(host: Host, world: World) -> None:
    host.run(step("drive", m_on=0xFFF, m_high=0xFFF, s_on=0, s_high=0), step("idle"))
    for lines in (M, S):
        for port, bit in lines.values():
            assert not world.ddr[port] >> bit & 1 and not world.out[port] >> bit & 1


def test_sense_lets_go_before_it_ties_anew(host: Host, world: World) -> None:
    """At every latch of new addresses all multiplexers are off."""
    seen: list[int] = []
    world.at_latch = lambda: seen.append(world.tied())
    host.run(*[step("sense", position=k, load=k % 3, ld="low") for k in (1, 9, 17, 8, 24, 2)], step("scan", mask=0xFFFFFF, repeats=1))
    assert seen and not any(seen)


def test_load_selector_and_ld(host: Host, world: World) -> None:
    for load in range(8):
        for name, level in (("off", None), ("low", 0), ("high", 1)):
            host.run(step("sense", position=5, load=load, ld=name))
            assert (world.tied(), world.load(), world.drives(LD)) == (5, load, level)
    host.run(step("sense", position=0, load=0, ld="off"))
    assert world.tied() == 0


def test_scan_goes_up_and_keeps_the_load(host: Host, world: World) -> None:
    at = len(world.samples)
    host.run(AVCC, step("sense", position=3, load=1, ld="high"), step("scan", mask=mask(2, 9, 24), repeats=2))
    assert [k for _, channel, _, k in world.samples[at:] if channel == 0] == [2, 2, 9, 9, 24, 24]
    assert world.load() == 1 and world.drives(LD) == 1 and world.tied() == 24


def test_samples_are_taken_after_k_has_settled(host: Host, world: World) -> None:
    """Through 100 kilohm and 145 pF a sample may not come sooner than 100 us (7 time constants) after the tie."""
    latched: list[int] = []
    world.at_latch = lambda: latched.append(int(world.lib.port_pc_now_ns()))
    host.run(AVCC, step("sense", position=1, load=2, ld="high"))
    at, first = len(world.samples), len(latched)
    host.run(step("scan", mask=mask(4, 5, 6), repeats=1))
    for tie, sample in zip(latched[first:], world.samples[at:]):
        assert sample[0] - tie >= 100_000


def test_readings_are_sums(host: Host, world: World) -> None:
    world.unpowered[6] = (1.0, 100.0)
    result = host.run(AVCC, step("sense", position=6, load=0, ld="off"), step("read", source="k", repeats=64),
                      step("read", source="vref", repeats=3))
    assert result.readings == [204 * 64, 512 * 3]
    assert result.done.conversions == 67


def test_reference_settles_and_a_conversion_is_thrown_away(host: Host, world: World) -> None:
    """Wiring file: aref_settle_ms; the first conversion after it is not used (data sheet, ADC voltage reference)."""
    host.run(AVCC)
    at = len(world.samples)
    result = host.run(step("reference", reference="v2v56"), step("read", source="vref", repeats=1))
    refs = [s for s in world.samples[at:]]
    assert [r for _, _, r, _ in refs] == [3, 3, 3]
    assert refs[1][0] - refs[0][0] >= 20_000_000
    assert result.readings == [int(2.5 / 2.56 * 1024)] and result.done.conversions == 1
    again = host.run(step("reference", reference="v2v56"))
    assert again.done.elapsed_us < 1000, "no change, no wait"


def test_level_and_read_back(host: Host, world: World) -> None:
    result = host.run(AVCC, step("level", code=512), step("read", source="vdac", repeats=1))
    assert world.pwm == 512 and result.readings == [512]


def test_pulse(host: Host, world: World) -> None:
    at = len(world.writes)
    result = host.run(step("pin", position=10, lines=1, high=0), step("pulse", position=10, count=137))
    port, bit = M[10]
    levels = [out >> bit & 1 for _, p, ddr, out in world.writes[at:] if p == port and ddr >> bit & 1]
    edges = sum(1 for a, b in zip(levels, levels[1:]) if a != b)
    assert edges == 2 * 137 and levels[-1] == 0
    assert result.status == "complete" and 137 * 8 < result.done.elapsed_us < 137 * 16
    assert host.run(step("pulse", position=11, count=1)).status == "bad_step", "nothing drives there"


def test_ground_switch_unpowered_only(host: Host, world: World) -> None:
    host.run(step("ground", position=12))
    assert world.switches() == {"N12"}
    host.run(step("ground", position=7))
    assert world.switches() == {"N7"}
    host.run(step("ground", position=0))
    assert world.switches() == set()
    assert host.run(step("ground", position=11)).status == "bad_step"
    assert host.run(POWER, step("ground", position=8)).status == "bad_step"


@pytest.mark.parametrize("high,level", [(1, 5.0), (0, 0.0)])
def test_load_weak(host: Host, world: World, high: int, level: float) -> None:
    world.unpowered[3] = (2.0, 1000.0)
    result = host.run(AVCC, step("load", position=3, lines=0, load=1, high=high, also=0, repeats=4, settle_us=50))
    want = (2.0 / 1000 + level / 8297) / (1 / 1000 + 1 / 8297)
    assert result.readings == [4 * int(want / 5 * 1024)]
    assert world.tied() == 0 and world.drives(LD) is None and not world.lines()


def test_load_strong_with_a_second_position(host: Host, world: World) -> None:
    """The second position is read with the lines still on and the load selector open."""
    world.chip = {3: (0.2, 10.0), 7: (0.05, 1.0)}
    host.run(POWER)
    at = len(world.samples)
    result = host.run(AVCC, step("load", position=3, lines=3, load=5, high=1, also=7, repeats=2, settle_us=100))
    assert result.status == "complete" and len(result.readings) == 2
    assert [k for _, _, _, k in world.samples[at:]] == [3, 3, 3, 7, 7]
    lines = 1 / 297 + 1 / 587
    with_heavy = (0.2 / 10 + 5 * (lines + 1 / 317)) / (1 / 10 + lines + 1 / 317)
    assert abs(result.readings[0] / 2 / 1024 * 5 - with_heavy) < 0.006
    assert result.done.conversions == 4 and not world.lines()


def test_load_scan_is_a_load_a_position(host: Host, world: World) -> None:
    """The same readings as so many `load` steps, a direction each; nothing is left on."""
    world.chip = {3: (0.2, 10.0), 5: (3.4, 100.0), 9: (0.3, 20.0)}
    host.run(POWER)
    singly = host.run(AVCC, *[step("load", position=k, lines=2, load=0, high=high, also=0, repeats=2, settle_us=30)
                              for k, high in ((3, 1), (5, 0), (9, 1))])
    at_once = host.run(AVCC, step("load_scan", mask=mask(3, 5, 9), high=mask(3, 9), lines=2, load=0, repeats=2, settle_us=30))
    assert at_once.status == "complete" and at_once.readings == singly.readings
    assert at_once.done.conversions == 6 and not world.lines()


def test_load_scan_goes_on_behind_a_short(host: Host, world: World) -> None:
    world.chip = {3: (0.2, 10.0), 5: (0.0, 0.5), 9: (0.3, 20.0)}
    host.run(POWER)
    result = host.run(AVCC, step("load_scan", mask=mask(3, 5, 9), high=mask(3, 5, 9), lines=2, load=0, repeats=1, settle_us=0))
    assert result.status == "complete"
    assert [reading is None or reading == 0xFFFF for reading in result.readings] == [False, True, False]
    assert result.kinds == ["short"] and [(e.position, e.reading) for e in result.events] == [(5, 1)]


def test_load_scan_of_nothing(host: Host, world: World) -> None:
    result = host.run(AVCC, step("load_scan", mask=0, high=0, lines=1, load=0, repeats=1, settle_us=0))
    assert result.status == "complete" and not result.readings


def test_end_leaves_power_and_lines(host: Host, world: World) -> None:
    host.run(POWER, step("pin", position=2, lines=1, high=1))
    assert world.powered and world.lines() == {"M2": 1}
    host.run(step("power_off"))
    assert not world.powered and not world.lines()


def test_pass_time_is_converter_time(host: Host) -> None:
    """The converter sets the pace, also for single conversions (104 us each)."""
    result = host.run(AVCC, *[step("scan", mask=0xFFFFFF, repeats=1)] * 30)
    assert result.done.elapsed_us / (104 * result.done.conversions) < 1.1
