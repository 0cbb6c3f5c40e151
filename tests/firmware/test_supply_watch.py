"""`supply_span`: what the firmware has seen of the rail and of ICC between the steps."""
from __future__ import annotations

from .host import Host, mask, step
from .world import World

AVCC = step("reference", reference="avcc")
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=900)
SPAN = step("supply_span")
NOTHING = [0xFFFF] * 4
WAIT = step("settle", us=5000)


def busy(conversions: int) -> list[bytes]:
    """Steps that keep the converter at work."""
    return [step("read", source="vref", repeats=8)] * (conversions // 8)


def test_nothing_is_looked_at_without_power(host: Host) -> None:
    assert host.run(AVCC, *[WAIT] * 20, SPAN).readings == NOTHING


def test_steady(host: Host, world: World) -> None:
    """2.5 V of 5 V is code 512; the world's ICC stands at 200."""
    host.run(POWER)
    assert host.run(AVCC, *[WAIT] * 4, SPAN).readings == [512, 512, 200, 200]
    assert host.run(SPAN).readings == NOTHING, "it starts anew"


def test_looks_are_no_readings(host: Host, world: World) -> None:
    """Readings come whole and in order, and `conversions` counts theirs only."""
    world.chip = {k: (k / 5, 10.0) for k in range(1, 25) if k not in (7, 24)}
    host.run(POWER)
    scans = [step("scan", mask=0x7FFFBF, repeats=3), WAIT] * 12
    result = host.run(AVCC, *scans)
    assert result.readings[:22] * 12 == result.readings and result.done.conversions == 22 * 3 * 12
    assert host.run(SPAN).readings == [512, 512, 200, 200]


def dip(host: Host, world: World, steps: list[bytes]) -> None:
    """The rail falls to 4.5 V and the chip is lifted, for 45 ms in the midst of these steps."""
    host.run(POWER, AVCC)
    host.begin([*steps, step("end")])
    for _ in range(20):
        host.turn(2000)
    assert world.powered and not any(m.name == "pass_done" for m in host.taken)
    world.rail, world.icc_code = 4.5, 3
    for _ in range(22):
        host.turn(2000)
    world.rail, world.icc_code = 5.0, 200
    assert not any(m.name == "pass_done" for m in host.taken)
    assert host.finish().status == "complete"


def test_a_dip_while_it_waits(host: Host, world: World) -> None:
    dip(host, world, [WAIT] * 40)
    assert host.run(SPAN).readings == [512, 568, 3, 200]


def test_a_dip_while_it_converts(host: Host, world: World) -> None:
    """Never a wait: looks are put between."""
    dip(host, world, busy(1800))
    assert host.run(SPAN).readings == [512, 568, 3, 200]


def test_it_outlasts_power(host: Host, world: World) -> None:
    host.run(POWER, AVCC, *[WAIT] * 4, step("power_off"))
    assert host.run(SPAN).readings == [512, 512, 200, 200]
    world.icc_code = 300
    host.run(POWER, step("power_off"))
    assert host.run(SPAN).readings == NOTHING, "power_on begins anew"


def test_other_references_are_not_looked_at(host: Host, world: World) -> None:
    host.run(POWER)
    result = host.run(step("reference", reference="v2v56"), *[WAIT] * 10, SPAN)
    assert result.readings == NOTHING


def test_a_halt_takes_a_look_under_way_with_it(host: Host, world: World) -> None:
    """Its code does not become a reading of the next pass."""
    for _ in range(12):
        host.run(POWER, AVCC)
        host.begin([WAIT, step("scan", mask=mask(3, 4), repeats=40), WAIT] * 4)
        for _ in range(10 + _):
            host.turn(1000)
        host.control("halt")
        host.wait("state")
        host.finish()
        assert host.run(AVCC, step("read", source="vdac", repeats=1)).readings == [0]


def test_what_it_costs(host: Host) -> None:
    """One conversion in a hundred where nothing waits, none where something does."""
    host.run(AVCC)
    plain = host.run(*busy(960)).done.elapsed_us
    waits = host.run(*[step("settle", us=2100)] * 50).done.elapsed_us
    host.run(POWER, AVCC)
    assert host.run(*busy(960)).done.elapsed_us < 1.015 * plain
    assert host.run(*[step("settle", us=2100)] * 50).done.elapsed_us < 1.005 * waits
