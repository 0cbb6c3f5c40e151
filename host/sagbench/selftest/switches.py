"""Power switches, one after the other, and the supply current amplifier.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from statistics import median

from sagbench.plan.fixture import M_LINE
from sagbench.plan.power import ALLOWANCE_A, limit_code
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import mask
from sagbench.selftest.bench import Bench, Refused
from sagbench.selftest.findings import listed, numbers
from sagbench.wire import steps
from sagbench.wire.numbers import EventKind, Reference, Source

ON_DROP = 0.06  # of the rail: a switch that is on, with one M line against it, comes nearer to its rail than that
BASE_OFF = 0.2  # a base current may differ so much from its resistors' nominal one
GAIN_OFF = 0.045  # the amplifier's gain likewise: three resistors of 1 %, a line's current of 2 %


def ground(bench: Bench) -> None:
    """Each ground switch against M high at its position."""
    positions = [p for p in bench.fixture.ground_positions if p not in bench.spoilt]
    recipe = bench.recipe()
    for position in positions:
        recipe.add(steps.ground(position))
        recipe.drive(mask([position]), 0, mask([position]))
        recipe.settle(500)
        recipe.read_position(position, 4, label="on")
        recipe.add(steps.ground(0))
        recipe.settle(500)
        recipe.read_position(position, 4, label="off")
    levels = bench.run(recipe)
    on, off = levels.by_position("on"), levels.by_position("off")
    open_ones = [p for p in positions if on[p] > ON_DROP and off[p] > 1 - ON_DROP]
    _never_on(bench, "ground", positions, open_ones)
    for position in positions:
        if position not in open_ones and (on[position] > ON_DROP or off[position] < 1 - ON_DROP):
            bench.report.fault(
                "ground switch",
                f"The ground switch of position {position} does not switch as it should ({5 * on[position]:.2f} V on, "
                f"{5 * off[position]:.2f} V off).",
                "power-switches",
                *bench.names.switch("ground", position),
            )


def with_resistor(bench: Bench, rails: tuple[int, int], ohms: float) -> None:
    """The user's resistor from a supply to a ground position: its current by the amplifier, and the firmware's own limit."""
    fixture, report = bench.fixture, bench.report
    high, low = rails
    base = bench.recipe()
    base.power_on([high], low, limit_code(fixture, ALLOWANCE_A, 1))
    base.reference(Reference.AVCC)
    for position in rails:
        base.read_position(position, 8, label="ends")
    base.read(Source.ICC, 64, label="icc")
    base.power_off()
    zero = bench.recipe()
    zero.power_on([high], 0, limit_code(fixture, ALLOWANCE_A, 1))
    zero.reference(Reference.AVCC)
    zero.read(Source.ICC, 64, label="icc")
    zero.power_off()
    levels, nothing = bench.run(base), bench.run(zero).one("icc")
    above, below = levels.all("ends")
    nominal = fixture.raw["supply"]["nominal_v"]
    through, seen = (
        1000 * nominal * (above - below) / ohms,
        1000 * nominal * (levels.one("icc") - nothing) / fixture.raw["icc_gain_ohm"],
    )
    if abs(seen - through) > GAIN_OFF * through + 0.3:
        report.fault(
            "supply current",
            f"Through the resistor flow {through:.1f} mA, the supply current amplifier says {seen:.1f} mA.",
            "supply-current",
            *(bench.names.part(role) for role in ("shunt", "sense_gain_output", "sense_gain_input")),
        )
    else:
        report.fine(
            "supply current",
            f"Through the resistor flow {through:.1f} mA, the supply current amplifier says {seen:.1f} mA.",
            "supply-current",
        )
    limited = bench.recipe()
    limited.power_on([high], low, round((nothing + (levels.one("icc") - nothing) / 2) * fixture.full_scale))
    try:
        bench.run(limited)
    except Refused as refused:
        bench.clear()
        if any(e.kind == EventKind.OVER_CURRENT for e in refused.events):
            report.fine(
                "current limit",
                f"The firmware takes power away at once from what draws {through:.1f} mA where half of that is "
                f"allowed.",
                "trip",
            )
            return
    report.fault(
        "current limit",
        f"The firmware did not take power away from what draws {through:.1f} mA where half of that is allowed.",
        "trip",
        bench.fixture.raw["designator"]["sense_gain_output"],
    )


def rails_of(bench: Bench, pair: tuple[int, int]) -> tuple[int, int] | None:
    """The pair as supply and ground position, if the fixture has switches there."""
    for high, low in (pair, pair[::-1]):
        if high in bench.fixture.supply_positions and low in bench.fixture.ground_positions:
            return high, low
    return None


def _never_on(bench: Bench, kind: str, positions: list[int], open_ones: list[int]) -> None:
    names, report = bench.names, bench.report
    rail = "5 V" if kind == "supply" else "ground"
    if open_ones and len(open_ones) == len(positions) > 1:
        register = names.switch(kind, positions[0])[2]
        report.fault(
            f"{kind} switches",
            f"None of the {kind} switches turns on: {register} is dead or not seated, or its enable does not reach it.",
            "power-switches",
            register,
            names.part("register_enable"),
        )
    else:
        for position in open_ones:
            transistor, base, register = names.switch(kind, position)
            report.fault(
                f"{kind} switch",
                f"The {kind} switch of position {position} does not tie it to {rail}: "
                f"{listed((transistor, base, register))}.",
                "power-switches",
                transistor,
                base,
                register,
            )
    good = [p for p in positions if p not in open_ones]
    if good:
        report.fine(
            f"{kind} switches", f"The {kind} switches of positions {numbers(good)} turn on and off.", "power-switches"
        )


def supply(bench: Bench) -> None:
    """Each supply switch with no ground: its level, its base current, and the current of an M line through the amplifier."""
    fixture = bench.fixture
    positions = [p for p in fixture.supply_positions if p not in bench.spoilt]
    on, bases, gains = {}, {}, {}
    rest = _rest(bench)
    for position in positions:
        try:
            levels = bench.run(_switched(bench, position))
        except Refused as refused:
            bench.clear()
            bench.report.fault(
                "supply switch",
                f"The supply switch of position {position} would not turn on: the firmware refused ({refused}).",
                "power-switches",
                *bench.names.switch("supply", position),
            )
            continue
        on[position] = min(
            levels.one("pin"), levels.one("loaded pin")
        )  # one that floats may show anything until it is loaded
        bases[position] = levels.one("icc") - rest
        if on[position] > 0.5:
            amperes = levels.one("loaded pin") / (fixture.resistor("medium_drive").typ + fixture.driver.middle)
            gains[position] = (levels.one("loaded icc") - levels.one("icc")) / amperes
    open_ones = [p for p in on if on[p] < 1 - ON_DROP]
    if _amplifier(bench, rest, gains):
        _bases(bench, bases, median(gains.values()), open_ones)
    _never_on(bench, "supply", list(on), [p for p in open_ones if p not in bench.spoilt])


def _rest(bench: Bench) -> float:
    recipe = bench.recipe()
    recipe.read(Source.ICC, 64, label="icc")
    return bench.run(recipe).one("icc")


def _switched(bench: Bench, position: int) -> Recipe:
    recipe = bench.recipe()
    recipe.power_on([position], 0, limit_code(bench.fixture, ALLOWANCE_A, 1))
    recipe.reference(Reference.AVCC)
    recipe.settle(2000)
    recipe.read_position(position, 8, label="pin")
    recipe.read(Source.ICC, 64, label="icc")
    recipe.pin(position, M_LINE)
    recipe.settle(1000)
    recipe.read_position(position, 8, label="loaded pin")
    recipe.read(Source.ICC, 64, label="loaded icc")
    recipe.power_off()
    return recipe


def _amplifier(bench: Bench, rest: float, gains: dict[int, float]) -> bool:
    """The supply current amplifier by the current of one M line. False: it says nothing about base currents."""
    names, report, fixture = bench.names, bench.report, bench.fixture
    if not gains:
        return False
    gain, nominal = median(gains.values()), fixture.raw["icc_gain_ohm"]
    shunt, out, into = (names.part(role) for role in ("shunt", "sense_gain_output", "sense_gain_input"))
    amplifier, transistor = names.part("current_sense_level_buffer_trip"), names.part("sense_output")
    if gain < 0.1 * nominal:
        report.fault(
            "supply current",
            f"The supply current amplifier does not see the current of a line: {amplifier} (op-amp A), {transistor}, "
            f"{shunt}, "
            f"{out} or {into}.",
            "supply-current",
            amplifier,
            transistor,
            shunt,
            out,
            into,
            names.part("sense_input"),
            names.pin("ICC"),
        )
        return False
    if abs(gain / nominal - 1) > GAIN_OFF:
        report.fault(
            "supply current",
            f"The supply current amplifier gives {gain:.1f} mV/mA; {nominal:g} mV/mA are right: {shunt}, {out} or "
            f"{into} has a "
            "wrong value.",
            "supply-current",
            shunt,
            out,
            into,
        )
        return True
    top = fixture.raw["amplifier"]["offset_mv"]["max"] / 1000 * nominal / fixture.resistor("shunt").typ
    volts, middle = (
        rest * fixture.raw["supply"]["nominal_v"],
        fixture.raw["supply"]["nominal_v"] / fixture.resistor("pedestal").typ * nominal,
    )
    if abs(volts - middle) > top + 0.03 and not bench.always_on:
        report.fault(
            "supply current",
            f"The supply current amplifier stands at {volts * 1000:.0f} mV with nothing drawn; "
            f"{(middle - top) * 1000:.0f} to "
            f"{(middle + top) * 1000:.0f} mV are right: {names.part('pedestal')} or the offset of {amplifier}.",
            "supply-current",
            names.part("pedestal"),
            amplifier,
        )
        return True
    report.fine(
        "supply current",
        f"The supply current amplifier gives {gain:.1f} mV/mA, within what its resistors may be off.",
        "supply-current",
    )
    return True


def _bases(bench: Bench, bases: dict[int, float], gain: float, open_ones: list[int]) -> None:
    """Base currents, by the gain that was measured: a switch that does not turn on has none if its resistor or register is to blame."""
    names, fixture = bench.names, bench.fixture
    nominal = fixture.raw["supply"]["nominal_v"]
    resistor = fixture.resistor("supply_switch_base").typ + fixture.raw["register_output_ohm"]["typ"]
    wanted = (0.85 / resistor + 0.15 / fixture.resistor("supply_switch_off").typ) * gain
    for position, base in bases.items():
        transistor, part, register = names.switch("supply", position)
        milli = 1000 * base * nominal / gain
        if position in open_ones:
            bench.spoilt.add(position)
            parts: tuple[str, ...]
            if base < 0.4 * wanted:
                why, parts = (
                    f"it gets no base current, so {part} is open or {register} does not pull it low",
                    (part, register, transistor),
                )
            else:
                why, parts = (
                    f"its base current is there, so {transistor} is open or fitted the wrong way round",
                    (transistor,),
                )
            bench.report.fault(
                "supply switch",
                f"The supply switch of position {position} does not tie it to 5 V: {why}.",
                "power-switches",
                *parts,
            )
        elif abs(base / wanted - 1) > BASE_OFF:
            bench.report.fault(
                "supply switch",
                f"The supply switch of position {position} has {milli:.1f} mA of base current; "
                f"{1000 * wanted * nominal / gain:.1f} mA are right: {part} has a wrong value.",
                "resistor-values",
                part,
                names.part("supply_switch_off", position),
            )
