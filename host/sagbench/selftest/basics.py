"""What everything else rests on: the register chain, the dead-man, references and supply, the level drive.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from math import hypot, sqrt

from sagbench.plan.fixture import Spread
from sagbench.plan.recipe import Mark
from sagbench.selftest.bench import Bench, Refused
from sagbench.selftest.findings import listed
from sagbench.wire import steps
from sagbench.wire.numbers import Reference, Source

PATTERNS = (0x000000, 0xFFFFFF, 0xA5C30F, 0x5A3CF0)
STEADY_US = 100000  # PUMP long enough for its store to be full
# ms from PUMP's last edge to OE_N let go, over all tolerances, supply and last level of PUMP; a millisecond of the clock at each
# end. ngspice on the whole circuit: 23.6 to 52.8 (hardware/spice/RESULTS.md); nominally 39 if PUMP stopped low, 44 if high
HOLDS_MS = (22, 54)
BACK_MS = 10
COMMON = 0.18  # of the rail: a level that the 1.1 V reference can hold
NEAR, FAR = 2.6, 3.3  # standard deviations: within the one it may well be chance, beyond the other surely not


def registers(bench: Bench) -> bool:
    """The chain gives back what was shifted through it. False: nothing that hangs on it can be tested."""
    names, report = bench.names, bench.report
    recipe = bench.recipe()
    for pattern in PATTERNS:
        recipe.add(steps.registers(pattern), Mark("chain", label=f"{pattern}"), Mark("chain", label=f"{pattern}"))
    try:
        levels = bench.run(recipe)
    except Refused:  # the firmware has seen it too; with that latched it lets the step pass
        levels = bench.run(recipe, clear=False)
    back = [
        low + (high << 12)
        for low, high in ((a or 0, b or 0) for a, b in (levels.raw(f"{pattern}") for pattern in PATTERNS))
    ]
    if back == list(PATTERNS):
        report.fine(
            "registers", "The three registers give back every pattern that is shifted through them.", "registers"
        )
        return True
    chain = names.part("multiplexer_addresses"), *names.parts("power_switches")
    out, clock, into = names.pin("SER_OUT"), names.pin("SER_CLK"), names.pin("SER_BACK")
    if len(set(back)) == 1:
        level = "low" if back[0] == 0 else "high" if back[0] == 0xFFFFFF else "as it is"
        report.fault(
            "registers",
            f"What is shifted through the registers comes back {level}, whatever it was: the chain is broken "
            f"somewhere between {out}, {', '.join(chain)} and {into}, or has no clock ({clock}).",
            "registers",
            *chain,
            out,
            into,
            clock,
        )
    else:
        report.fault(
            "registers",
            "What is shifted through the registers does not come back as it was: a bad joint, a bridge "
            f"between neighbours or a bad register among {', '.join(chain)}.",
            "registers",
            *chain,
            out,
            into,
            clock,
        )
    return False


def dead_man(bench: Bench) -> bool:
    """OE_N follows the pump. False: no power switch can be tested."""
    names, report = bench.names, bench.report
    recipe = bench.recipe()
    for high in (0, 1):
        recipe.settle(STEADY_US)
        recipe.add(steps.deadman(high), Mark("deadman", label=f"off {high}"), Mark("deadman", label=f"on {high}"))
    recipe.read(Source.ICC, 16, label="icc")
    levels = bench.run(recipe)
    off = [levels.raw(f"off {high}")[0] for high in (0, 1)]
    on = [levels.raw(f"on {high}")[0] for high in (0, 1)]
    bench.clear()
    store, bleed, base = names.part("pump_store"), names.part("pump_discharge"), names.part("enable_base")
    switch, pull_up, pump = names.part("register_enable"), names.part("registers_off"), names.pin("PUMP")
    diodes, coupling = names.parts("pump"), names.part("pump_coupling")
    if None in on and levels.one("icc") > 0.8 * bench.fixture.raw["trip"]["ratio"]:
        out, amplifier = names.part("sense_gain_output"), names.part("current_sense_level_buffer_trip")
        report.fault(
            "dead-man",
            f"The registers of the power switches are never enabled, for the trip acts: the supply current amplifier "
            f"stands at "
            f"{5 * levels.one('icc'):.1f} V with nothing drawn. {out} is open, or {amplifier} (op-amp A) or what is "
            f"around it is bad.",
            "trip",
            out,
            amplifier,
            names.part("sense_output"),
            names.part("shunt"),
        )
        return False
    if None in on:
        report.fault(
            "dead-man",
            "The registers of the power switches are never enabled: the pump does not reach OE_N.",
            "dead-man",
            *diodes,
            coupling,
            switch,
            base,
            store,
            pump,
            names.pin("OE_N"),
            names.part("trip"),
            names.part("trip_level_upper"),
        )
        return False
    if None in off:
        report.fault(
            "dead-man",
            "The registers of the power switches stay enabled when PUMP stands still: nothing would switch the chip "
            f"off if the controller stopped. Do not use the fixture before {switch} and what is around it is mended.",
            "dead-man",
            switch,
            names.pin("OE_N"),
            pull_up,
            store,
            bleed,
        )
        return True
    longest, shortest = max(t or 0 for t in off), min(t or 0 for t in off)
    if shortest < HOLDS_MS[0]:
        report.fault(
            "dead-man",
            f"The dead-man lets go {shortest} ms after PUMP stands still; {HOLDS_MS[0]} to {HOLDS_MS[1]} ms are right. "
            f"{store} is too small or {bleed} or {base} too low.",
            "dead-man",
            store,
            bleed,
            base,
        )
    elif longest > HOLDS_MS[1]:
        report.fault(
            "dead-man",
            f"The dead-man lets go only {longest} ms after PUMP stands still; {HOLDS_MS[0]} to {HOLDS_MS[1]} ms are "
            f"right. "
            f"{bleed} is open or {store} too large.",
            "dead-man",
            bleed,
            store,
            base,
        )
    elif max(t or 0 for t in on) > BACK_MS:
        report.fault(
            "dead-man",
            f"The dead-man needs {max(t or 0 for t in on)} ms to enable the registers; it should be 1 or 2.",
            "dead-man",
            coupling,
            *diodes,
            store,
        )
    else:
        report.fine(
            "dead-man",
            f"OE_N is let go {shortest} to {longest} ms after PUMP stands still at either level, and is back within "
            f"{max(t or 0 for t in on)} ms.",
            "dead-man",
        )
    return True


# ------------------------------------------------------------------ references
def references(bench: Bench) -> bool:
    """The 2.5 V reference against AVcc and both internal references. False: no level can be trusted."""
    names, report = bench.names, bench.report
    recipe = bench.recipe()
    recipe.add(steps.level(round(COMMON * bench.fixture.full_scale)))
    recipe.settle(20000)
    recipe.read(Source.VREF, 64, label="avcc")
    recipe.read(Source.VDAC, 64, label="common")
    recipe.reference(Reference.V2V56)
    recipe.read(Source.VREF, 64, label="2v56")
    recipe.reference(Reference.V1V1)
    recipe.read(Source.VDAC, 64, label="1v1")
    recipe.add(steps.level(0))
    levels = bench.run(recipe)
    ref, bias = names.part("2.5_V_reference"), names.part("reference_bias")
    share = levels.one("avcc")
    if share > 0.97:
        report.fault(
            "reference",
            f"The 2.5 V reference stands at the 5 V rail: {ref} is open or not fitted.",
            "reference",
            ref,
            names.pin("VREF"),
        )
        return False
    if share < 0.3:
        report.fault(
            "reference",
            f"The 2.5 V reference stands at {5 * share:.2f} V: {ref} is shorted, of another type or "
            f"has not its middle lead at VREF, or {bias} is open.",
            "reference",
            ref,
            bias,
            names.pin("VREF"),
        )
        return False
    _weigh(bench, share, levels.one("2v56"), levels.one("common"), levels.one("1v1"))
    return True


def _weigh(bench: Bench, share: float, on_2v56: float, common: float, on_1v1: float) -> None:
    """The reference by what is known of the rail and of the controller's own references, all together."""
    fixture, report = bench.fixture, bench.report
    ref = bench.names.part("2.5_V_reference")
    supply = fixture.raw["supply"]
    internal = {r["name"]: Spread.of(r["volts"]) for r in fixture.raw["adc"]["reference"] if "volts" in r}
    rail = Spread(supply["nominal_v"], supply["min_v"], supply["max_v"])
    guesses = [(share * rail.middle, share * fixture.standard(rail))]
    if on_2v56 < 0.998:
        guesses.append((on_2v56 * internal["v2v56"].middle, on_2v56 * fixture.standard(internal["v2v56"])))
    if 0 < on_1v1 < 0.998 and common > COMMON / 2:
        of_rail = on_1v1 / common  # AVcc in units of the 1.1 V reference
        guesses.append(
            (share * of_rail * internal["v1v1"].middle, share * of_rail * fixture.standard(internal["v1v1"]))
        )
    weight = sum(1 / u**2 for _, u in guesses)
    volts = sum(v / u**2 for v, u in guesses) / weight
    source = fixture.raw["voltage_reference"]
    u = sqrt(1 / weight)
    own = source["volts"] * source["tolerance"] / 2
    off = abs(volts - source["volts"]) / hypot(u, own)
    by = f"by the 5 V rail and the controller's own references it is {volts:.2f} V, within {2 * u:.2f} V"
    if off > FAR:
        report.fault("reference", f"{ref} is not at 2.5 V: {by}.", "reference", ref, bench.names.part("reference_bias"))
        return
    seen_rail = source["volts"] / share
    if not supply["min_v"] * 0.995 <= seen_rail <= supply["max_v"] * 1.005:
        report.fault(
            "supply",
            f"The 5 V supply is {seen_rail:.2f} V; {supply['min_v']:g} to {supply['max_v']:g} V are needed. Use "
            f"another USB "
            f"port, a shorter cable or a powered hub; if a meter shows 5 V there, {ref} is wrong.",
            "supply",
            ref,
        )
        return
    if off > NEAR:
        report.unsure(
            "reference",
            f"{ref} may be off: {by}. `fixture calibrate --reference` with a meter settles it.",
            "reference",
            ref,
        )
        return
    report.fine("reference", f"{ref}: {by}; the 5 V rail is {seen_rail:.2f} V.", "reference")
    unseen = NEAR * hypot(u, own) / source["volts"]
    report.not_tested(
        "reference, finer",
        f"What {ref} is off by less than {unseen:.0%} nothing on the board shows, and every figure in volts and amperes is off by as "
        "much: one reading of a meter does, `sagbench fixture calibrate --reference`.",
        "reference",
        ref,
    )


# ------------------------------------------------------------------ level drive
LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
STEP_TO = 0.8
STILL_US = 60000  # a filter three times too slow has settled by then, and is told as slow
MOMENTS_US = (500, 2500, 15000)  # after a step from 0
RISES = ((0.0, 0.15), (0.42, 0.70), (0.97, 1.01))  # of the step: two equal RC stages of 1 ms each, 20 % either way


def level_drive(bench: Bench) -> bool:
    """Level against duty, and how fast it follows. False: it cannot be used."""
    names, report, full = bench.names, bench.report, bench.fixture.full_scale
    recipe = bench.recipe()
    for level in LEVELS:
        recipe.add(steps.level(round(level * full)))
        recipe.settle(STILL_US)
        recipe.read(Source.VDAC, 16, label=f"{level}")
    recipe.add(steps.level(0))
    for moment in MOMENTS_US:
        recipe.settle(STILL_US)
        recipe.add(steps.level(round(STEP_TO * full)))
        recipe.settle(moment - 100)  # less half a conversion
        recipe.read(Source.VDAC, 1, label=f"after {moment}")
        recipe.add(steps.level(0))
    levels = bench.run(recipe)
    seen = [levels.one(f"{level}") for level in LEVELS]
    buffer, filters, pwm = names.part("current_sense_level_buffer_trip"), names.parts("level_filter"), names.pin("PWM")
    off = [a - b for a, b in zip(seen, LEVELS, strict=True)]
    amplifier = (
        Spread.of(bench.fixture.raw["amplifier"]["offset_mv"], 1e-3).max / bench.fixture.raw["supply"]["nominal_v"]
    )
    allowed = amplifier + 4 / full
    if max(seen) - min(seen) < 0.1:
        report.fault(
            "level drive",
            f"The level drive stays at {5 * seen[2]:.2f} V whatever it is told: {buffer} (op-amp B), its filter or "
            f"{pwm}.",
            "level-drive",
            buffer,
            *filters,
            pwm,
            names.pin("VDAC"),
        )
        bench.bad_loads.add(4)
        return False
    if max(map(abs, off)) > allowed:
        worst = max(range(len(off)), key=lambda n: abs(off[n]))
        report.fault(
            "level drive",
            f"The level drive gives {5 * seen[worst]:.3f} V where {5 * LEVELS[worst]:.3f} V were asked for: the offset "
            f"of {buffer} "
            f"(op-amp B) is too large, or something loads its filter.",
            "level-drive",
            buffer,
            *filters,
        )
        bench.bad_loads.add(4)
        return False
    rises = [levels.one(f"after {moment}") / STEP_TO for moment in MOMENTS_US]
    if any(not low <= rise <= high for rise, (low, high) in zip(rises, RISES, strict=True)):
        how = (
            "fast: a capacitor is open or too small"
            if rises[0] > RISES[0][1] or rises[1] > RISES[1][1]
            else "slow: a capacitor or resistor is too large"
        )
        if how.startswith("slow"):
            bench.bad_loads.add(4)  # later checks do not wait so long
        report.fault(
            "level drive", f"The level drive follows a step too {how} ({listed(filters)}).", "level-drive", *filters
        )
    else:
        report.fine(
            "level drive",
            "The level drive follows its code within the converter's accuracy, and its filter is as fast as it should "
            "be.",
            "level-drive",
        )
    return True


def others(bench: Bench) -> None:
    """The button, and what no program can see."""
    names, report = bench.names, bench.report
    button = names.part("next_chip")
    if bench.device.state().button:
        report.fault(
            "button",
            f"The button {button} reads as pressed. If nobody presses it, it is stuck, or {names.pin('BUTTON')} is "
            f"shorted to ground.",
            "button",
            button,
            names.pin("BUTTON"),
        )
    report.not_tested(
        "trip",
        f"The over-current trip was not made to act: it takes {bench.fixture.raw['trip']['total_ma']} mA, more than an "
        f"empty socket "
        "can draw.",
        "trip",
        names.part("trip"),
        names.part("trip_base"),
        names.part("trip_level_upper"),
        names.part("trip_level_lower"),
    )
    report.not_tested(
        "unseen parts",
        "Lamp, decoupling capacitors and the resistors that keep multiplexers and switches off at reset do nothing "
        "that the controller could see.",
        "unseen-parts",
        names.part("lamp"),
        names.part("socket_is_powered"),
        names.part("VBUS_bulk"),
        names.part("VBUS_fast"),
        *names.parts("decoupling"),
    )
