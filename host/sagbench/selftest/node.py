"""Node K and the load selector, tied to no position.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from sagbench.calibrate.parts import LEVEL, LOADS
from sagbench.plan.recipe import Mark, Recipe
from sagbench.selftest.bench import Bench
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Source

GROUND, VREF, TRICKLE = 7, 6, 2
ASKED = 0.3  # level of the level drive meanwhile, a fraction of the rail
CLOSE, CLOSE_TRICKLE = 0.012, 0.04  # leakage of a microampere in 100 kohm is 0.1 V
SIDES = ((LineLevel.LOW, 0.0), (LineLevel.HIGH, 1.0))
SETTLE_US = 500  # the trickle load, whatever it is, charges 160 pF


def node_k(bench: Bench, vref: float) -> bool:
    """Each channel of the load selector ties K to what it should. False: no position can be looked at.

    vref: the 2.5 V reference as a fraction of the rail.
    """
    seen, level = _look(bench)
    wanted = {(c, n): _wanted(c, n, vref, level) for c in range(1, 8) for n in (0, 1)}
    wrong = {key for key, level in wanted.items() if abs(seen[key] - level) > _allowed(key[0])}
    if not wrong:
        bench.report.fine(
            "load selector", "Each channel of the load selector ties node K to what it should.", "load-selector"
        )
        return True
    return _explain(bench, seen, wanted, wrong, (vref, level))


def _look(bench: Bench) -> tuple[dict[tuple[int, int], float], float]:
    """(channel, LD high) -> level of K, and the level drive's own level.

    K is charged the other way before, so that an open channel shows.
    """
    recipe = bench.recipe()
    recipe.add(steps.level(round(ASKED * bench.fixture.full_scale)))
    recipe.settle(25000)
    recipe.read(Source.VDAC, 16, label="level")
    for channel in range(1, 8):
        for n, (ld, _) in enumerate(SIDES):
            _charge(recipe, channel, n)
            used = ld if channel in LOADS else LineLevel.OFF
            recipe.add(steps.sense(0, channel, used))
            recipe.settle(SETTLE_US)
            recipe.add(steps.read(Source.K, 4), Mark("position", repeats=4, label=f"{channel} {n}"))
    recipe.add(steps.level(0))
    levels = bench.run(recipe)
    return {(c, n): levels.one(f"{c} {n}") for c in range(1, 8) for n in (0, 1)}, levels.one("level")


def _charge(recipe: Recipe, channel: int, high: int) -> None:
    """K to the level that the channel under test will not give, through another channel."""
    by = 5 if channel != 5 else 3
    opposite = not high if channel in LOADS else bool(high)
    recipe.add(steps.sense(0, by, LineLevel.HIGH if opposite else LineLevel.LOW))
    recipe.settle(SETTLE_US)


def _allowed(channel: int) -> float:
    return CLOSE_TRICKLE if channel == TRICKLE else CLOSE


def _wanted(channel: int, high: int, vref: float, level: float) -> float:
    return {GROUND: 0.0, VREF: vref, LEVEL: level}.get(channel, float(high))


def _explain(
    bench: Bench,
    seen: dict[tuple[int, int], float],
    wanted: dict[tuple[int, int], float],
    wrong: set[tuple[int, int]],
    sources: tuple[float, float],
) -> bool:
    names, report = bench.names, bench.report
    selector, ld = names.part("load_selector"), names.pin("LD")
    if found := _address(seen, sources):
        bit, stuck = found
        output = names.address_output("LOAD", bit)
        report.fault(
            "load selector",
            f"The load selector behaves as if its address line {'ABC'[bit]} were always {'high' if stuck else 'low'}: "
            f"{output}, or a bridge at {selector}.",
            "load-selector",
            output.split(".")[0],
            selector,
        )
        return False
    channels = {channel for channel, _ in wrong}
    lows = {seen[c, n] for c, n in seen}
    if max(lows) - min(lows) < 0.05:
        level = sum(lows) / len(lows)
        report.fault(
            "node K",
            f"Node K stays at {5 * level:.2f} V whatever it is tied to: it is bridged to something, or {selector}, its "
            f"address register "
            f"{names.part('multiplexer_addresses')} or the wire to {names.pin('K')} is dead.",
            "node-k",
            selector,
            names.part("multiplexer_addresses"),
            names.pin("K"),
            *(names.mux(m) for m in range(3)),
        )
        return False
    if channels == set(LOADS):
        sides = {n for _, n in wrong}
        how = (
            "goes neither high nor low" if len(sides) == 2 else "does not go high" if 1 in sides else "does not go low"
        )
        report.fault("LD line", f"The LD line ({ld}) {how}: no load pulls node K there.", "load-selector", ld, selector)
        return False
    if (ohms := _held(bench, seen)) is not None:
        side, value = ohms
        report.fault(
            "node K",
            f"Node K is pulled {side} by some {value:.0f} ohm: a bridge at K, or a sense multiplexer that does not let "
            f"go.",
            "node-k",
            *(names.mux(m) for m in range(3)),
            names.pin("K"),
            *(names.inhibit_pin(m) for m in range(3)),
        )
        return False
    if len(channels) >= 5:
        report.fault(
            "load selector",
            f"Most channels of the load selector do not tie node K to what they should: {selector} is dead or not "
            f"seated.",
            "load-selector",
            selector,
            names.part("multiplexer_addresses"),
        )
        return False
    bench.bad_loads |= channels
    for channel in sorted(channels):
        _one(bench, channel, max(abs(seen[c, n] - wanted[c, n]) for c, n in wrong if c == channel))
    return 1 not in channels  # the weak load is what positions are looked at with


def _one(bench: Bench, channel: int, off: float) -> None:
    names, report = bench.names, bench.report
    at = names.selector_channel(channel)
    if channel == GROUND:
        report.fault(
            "load selector",
            f"Channel {at} does not tie node K to ground ({5 * off:.2f} V off).",
            "load-selector",
            names.part("load_selector"),
        )
    elif channel == VREF:
        report.fault(
            "load selector",
            f"Channel {at} does not tie node K to the 2.5 V reference ({5 * off:.2f} V off).",
            "load-selector",
            names.part("load_selector"),
        )
    else:
        part = names.selector_part(channel)
        what = names.fixture.raw["load_selector"][channel].removeprefix("L_").lower()
        report.fault(
            "load selector",
            f"The {what} load does not reach node K ({5 * off:.2f} V off): {part} or channel {at} is open.",
            "load-selector",
            part,
            names.part("load_selector"),
        )


def _address(seen: dict[tuple[int, int], float], sources: tuple[float, float]) -> tuple[int, bool] | None:
    """The address bit that explains all levels by being stuck, if one does."""
    for bit in range(3):
        for stuck in (False, True):
            if all(_fits(c, seen[c, n], _as_if(c, n, bit, stuck, sources), _wanted(c, n, *sources)) for c, n in seen):
                return bit, stuck
    return None


def _as_if(channel: int, high: int, bit: int, stuck: bool, sources: tuple[float, float]) -> float | None:
    """Level of K if an address bit is stuck; None where it is not determined."""
    real = channel | 1 << bit if stuck else channel & ~(1 << bit)
    if real in LOADS:
        return float(high) if channel in LOADS else None  # LD is off where the host expects no load
    return None if real == 0 else _wanted(real, high, *sources)


def _fits(channel: int, level: float, expected: float | None, wanted: float) -> bool:
    """Where nothing is determined K floats: at anything but what a sound channel would give."""
    return abs(level - wanted) > _allowed(channel) if expected is None else abs(level - expected) <= CLOSE_TRICKLE


def _held(bench: Bench, seen: dict[tuple[int, int], float]) -> tuple[str, float] | None:
    """K is pulled to a rail by a resistance: which, and how many ohms, from the loads that fight it."""
    fixture = bench.fixture
    ron, pin = fixture.raw["mux"]["ron_ohm"]["typ"], fixture.driver.typ
    for side, n in (("low", 1), ("high", 0)):
        found = []
        for channel in (1, 3, 5):
            pulled = seen[channel, n] if side == "low" else 1 - seen[channel, n]
            if pulled > 1 - CLOSE:
                break
            arm = fixture.resistor(LOADS[channel]).typ + ron + pin
            found.append(arm * pulled / (1 - pulled))
        if len(found) == 3 and max(found) - min(found) < 60 + 0.5 * min(found):
            return side, found[2]
    return None
