"""Each position for itself: what holds it when nothing should, and whether its lines and its channel reach it.

Only one line drives at a time here, and never against another: two lines that are bridged come to no harm.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass

from sagbench.plan.fixture import M_LINE, S_LINE, Spread
from sagbench.plan.recipe import Mark
from sagbench.plan.seat import mask
from sagbench.selftest.bench import Bench
from sagbench.selftest.findings import listed, numbers
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Source

WEAK = 1
HELD_OHM = 60e3  # a position that is held by less is not free
SWITCH_OHM = 90  # held by less than that: a switch or a bridge, not a line
LINE_SHARE = (
    0.27  # a line's resistance may be that far off its nominal value and still be that line; the channel comes in
)
PULLED = 0.25  # of the rail, through the weak load: what is not at its level is not reached


@dataclass(frozen=True)
class Held:
    """A position that something ties to a level: fraction of the rail, and ohms in between."""

    position: int
    level: float
    ohm: float


def idle(bench: Bench) -> list[Held]:
    """Positions that are not free with all lines off, told one by one."""
    found = _held(bench)
    for one in found:
        bench.spoilt.add(one.position)
    icc = _icc_rest(bench)
    switched = [h for h in found if h.ohm < SWITCH_OHM]
    for kind, level, of_kind in (
        ("supply", 1.0, bench.fixture.supply_positions),
        ("ground", 0.0, bench.fixture.ground_positions),
    ):
        group = [h for h in switched if h.position in of_kind and abs(h.level - level) < 0.2]
        if len(group) == len(of_kind) and len(group) > 1:
            _all_on(bench, kind)
            switched = [h for h in switched if h not in group]
    for one in found:
        if one.ohm >= SWITCH_OHM:
            _stuck_line(bench, one)
        elif one in switched:
            _stuck_switch(bench, one, icc)
    if not found:
        bench.report.fine(
            "positions at rest", "No position is held at any level while all lines and switches are off.", "stuck-lines"
        )
    _ld_bridge(bench)
    return found


def _held(bench: Bench) -> list[Held]:
    recipe = bench.recipe()
    for position in bench.positions:
        for ld in (LineLevel.LOW, LineLevel.HIGH):
            recipe.read_position(position, 4, label=ld.name, selector=WEAK, ld=ld)
    levels = bench.run(recipe)
    low, high = levels.by_position("LOW"), levels.by_position("HIGH")
    channel = Spread.of(bench.fixture.raw["mux"]["ron_ohm"]).middle
    arm = bench.fixture.resistor("weak_load").typ + bench.fixture.driver.middle + channel
    out = []
    for position in bench.positions:
        free = min(max(high[position] - low[position], 1e-6), 1 - 1e-6)
        ohm = arm * free / (1 - free)
        if ohm < HELD_OHM:
            out.append(Held(position, low[position] / (1 - free), max(ohm - channel, 0.0)))
    return out


def _icc_rest(bench: Bench) -> float:
    """Base currents of supply switches that are on, in how many: by what the ICC amplifier says at rest."""
    recipe = bench.recipe()
    recipe.read(Source.ICC, 16, label="icc")
    share = bench.run(recipe).one("icc")
    gain = bench.fixture.raw["icc_gain_ohm"]
    pedestal = gain / bench.fixture.resistor("pedestal").typ
    one = (
        gain
        * 0.85
        / (bench.fixture.resistor("supply_switch_base").typ + bench.fixture.raw["register_output_ohm"]["typ"])
    )
    return float((share - pedestal) / one)


def _all_on(bench: Bench, kind: str) -> None:
    names = bench.names
    register = names.parts("power_switches")[0 if kind == "ground" else 1]
    bench.report.fault(
        f"{kind} switches",
        f"All {kind} switches are on when they should be off: {register} is dead or not seated.",
        "power-switches",
        register,
    )


def _stuck_switch(bench: Bench, one: Held, icc: float) -> None:
    names, at = bench.names, one.position
    high = one.level > 0.5
    kind = (
        "supply"
        if high and at in bench.fixture.supply_positions
        else "ground"
        if not high and at in bench.fixture.ground_positions
        else ""
    )
    if not kind:
        rail = "5 V" if high else "ground"
        bench.report.fault(
            "position held",
            f"Position {at} is tied to {rail} by some {one.ohm:.0f} ohm with everything off: a bridge at the socket "
            f"or at {names.mux_channel(at)}.",
            "stuck-lines",
            names.part("test_socket"),
            names.mux(names.package(at)),
        )
        return
    transistor, base, register = names.switch(kind, at)
    rail = "5 V" if high else "ground"
    parts: tuple[str, ...]
    if kind == "supply":
        bench.always_on.add(at)
    if kind == "supply" and icc > 0.6:
        why, parts = f"its base current flows, so {register} turns it on", (register, transistor)
    elif kind == "supply":
        why, parts = f"it has no base current, so {transistor} is shorted or bridged", (transistor,)
    else:
        why, parts = f"{transistor} is shorted or bridged, or {register} turns it on", (transistor, register)
    bench.report.fault(
        f"{kind} switch",
        f"The {kind} switch of position {at} ties it to {rail} when it should be off: {why}.",
        "power-switches",
        *parts,
    )


def _stuck_line(bench: Bench, one: Held) -> None:
    names, at = bench.names, one.position
    level = "high" if one.level > 0.8 else "low" if one.level < 0.2 else ""
    for line, role in ((M_LINE, "medium_drive"), (S_LINE, "strong_drive")):
        nominal = bench.fixture.resistor(role).typ + bench.fixture.driver.typ
        if level and abs(one.ohm - nominal) < LINE_SHARE * nominal:
            pin, resistor = names.line_pin(line, at), names.resistor(line, at)
            bench.report.fault(
                "stuck line",
                f"Position {at} is held {level} through {resistor}: controller pin {pin} is stuck {level}, or its "
                f"track is "
                f"bridged to {'5 V' if level == 'high' else 'ground'}.",
                "stuck-lines",
                pin,
                resistor,
            )
            return
    bench.report.fault(
        "position held",
        f"Position {at} is held at {5 * one.level:.1f} V by some {_ohms(one.ohm)} with everything off: something is in "
        f"the "
        f"socket, or there is a bridge or dirt at {names.mux_channel(at)} or the socket.",
        "stuck-lines",
        names.mux(names.package(at)),
        names.line_pin(M_LINE, at),
        names.line_pin(S_LINE, at),
    )


def _ohms(ohm: float) -> str:
    return f"{ohm / 1000:.1f} kohm" if ohm >= 2000 else f"{ohm:.0f} ohm"


def _ld_bridge(bench: Bench) -> None:
    """LD high with the load selector open must reach no position: it is bridged to a line if it does."""
    recipe = bench.recipe()
    for position in bench.positions:
        for ld in (LineLevel.LOW, LineLevel.HIGH):
            if position not in bench.spoilt:
                recipe.add(steps.sense(position, 0, ld))
                recipe.settle(100)
                recipe.add(steps.read(Source.K, 1), Mark("position", position, label=ld.name))
    levels = bench.run(recipe)
    low = levels.by_position("LOW")
    for position, level in levels.by_position("HIGH").items():
        if level - low[position] > 0.5:
            bench.spoilt.add(position)
            names = bench.names
            pins = names.line_pin(M_LINE, position), names.line_pin(S_LINE, position)
            bench.report.fault(
                "bridged lines",
                f"Position {position} follows the LD line: {names.pin('LD')} is bridged to {pins[0]} or {pins[1]}.",
                "bridges",
                names.pin("LD"),
                *pins,
            )


# ------------------------------------------------------------------ who sees whom
Map = dict[int, dict[int, float]]  # raised position -> position -> level through the weak load to ground


def who_sees_whom(bench: Bench) -> Map:
    """Each position raised through M, all looked at through the weak load."""
    recipe = bench.recipe()
    for raised in [p for p in bench.positions if p not in bench.spoilt]:
        recipe.drive(mask([raised]), 0, mask([raised]))
        recipe.sense(0, WEAK, LineLevel.LOW)
        recipe.scan(bench.positions, label=f"from {raised}")
    levels = bench.run(recipe)
    return {raised: levels.by_position(f"from {raised}") for raised in bench.positions if raised not in bench.spoilt}


def sees(seen: Map, raised: int, position: int) -> bool:
    """True if a position follows one that is raised."""
    return raised in seen and seen[raised][position] > PULLED


def wiring_of_k(bench: Bench, seen: Map) -> bool:
    """Whole multiplexers and their addresses. False: it makes no sense to look at single positions."""
    return not (_address(bench, seen) or _inhibit(bench, seen))


def _address(bench: Bench, seen: Map) -> bool:
    names = bench.names
    free = [p for p in bench.positions if p not in bench.spoilt]
    muxes = [names.mux(package) for package in names.packages]
    for bit in range(3):
        for stuck in (False, True):

            def real(position: int, bit: int = bit, stuck: bool = stuck) -> int:
                channel = names.channel_number(position)
                return names.at(names.package(position), channel | 1 << bit if stuck else channel & ~(1 << bit))

            if all(sees(seen, p, q) == (real(q) == p) for p in free for q in free):
                output = names.address_output("SENSE", bit)
                bench.report.fault(
                    "sense multiplexers",
                    f"All sense multiplexers behave as if address line {'ABC'[bit]} were always "
                    f"{'high' if stuck else 'low'}: {output}, or a bridge at {listed(muxes)}.",
                    "sense-multiplexers",
                    output.split(".")[0],
                    *muxes,
                )
                return True
    return False


def _inhibit(bench: Bench, seen: Map) -> bool:
    """A multiplexer that is never off shows its positions beside those of the others; one that is never on shows none."""
    names, wrong = bench.names, False
    for package in names.packages:
        own = [p for p in bench.positions if names.package(p) == package and p not in bench.spoilt]
        others = [q for q in bench.positions if names.package(q) != package and q not in bench.spoilt]
        mux, pin, channels = names.mux(package), names.inhibit_pin(package), numbers(own) if own else ""
        if own and not any(sees(seen, p, p) for p in own):
            bench.report.fault(
                "sense multiplexers",
                f"None of positions {channels} reaches node K: {mux} is dead or not seated, or {pin} does not switch "
                "it on.",
                "sense-multiplexers",
                mux,
                pin,
            )
            bench.spoilt.update(own)
            wrong = True
        same = [(p, q) for p in own for q in others if names.channel_number(p) == names.channel_number(q)]
        if len(same) > 2 and all(sees(seen, p, q) for p, q in same):
            bench.report.fault(
                "sense multiplexers",
                f"Positions {channels} reach node K whichever multiplexer is on: {mux} is never off; look at {pin} and "
                f"at {mux}'s pin INH.",
                "sense-multiplexers",
                pin,
                mux,
            )
            return True
    return wrong and len(bench.spoilt) > len(bench.positions) // 2
