"""The lines of each position: do they reach it, by about the right resistance, at both levels?

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from statistics import median

from sagbench.plan.fixture import M_LINE, S_LINE
from sagbench.plan.recipe import Mark
from sagbench.plan.seat import mask
from sagbench.selftest.bench import Bench
from sagbench.selftest.positions import WEAK
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Source

LEVEL = 4
ASIDE = 0.2  # of the rail: so far from the other rail the level drive's buffer can still carry a line's current
CHANNEL = (25.0, 230.0)  # ohms that a channel to K may have, with all that the loads it is measured by may be off
ALL_OFF = 70.0  # if all positions are off by more, it is the load they are measured by
APART = 110.0  # ohms that it may differ between the two ways to measure it; `values` looks closer


def each(bench: Bench) -> None:
    """Every position that is not known to be spoilt: M and S, high and low."""
    positions = [p for p in bench.positions if p not in bench.spoilt]
    medium = _medium(bench, positions)
    middles = [m for m in (_beyond(bench, M_LINE, ohms) for ohms in medium.values()) if m is not None]
    if middles and abs(median(middles) - sum(CHANNEL) / 2) > ALL_OFF:
        medium = {p: _less(ohms, median(middles) - sum(CHANNEL) / 2) for p, ohms in medium.items()}
    strong = _centred(bench, medium, _strong(bench, positions))
    good = 0
    for position in positions:
        before = len(bench.report.checks)
        _judge(bench, position, medium[position], strong[position])
        good += len(bench.report.checks) == before
    if good:
        bench.report.fine(
            "lines",
            f"Both lines of {good} positions reach them at both levels, through about the right resistors.",
            "lines",
        )


def _medium(bench: Bench, positions: list[int]) -> dict[int, tuple[float | None, float | None]]:
    """Ohms of M when high and low, by the weak load the other way; None: it does not reach K."""
    recipe = bench.recipe()
    for position in positions:
        for high in (True, False):
            recipe.sense(position, WEAK, LineLevel.LOW if high else LineLevel.HIGH)
            recipe.drive(mask([position]), 0, mask([position]) if high else 0)
            recipe.settle(50)
            recipe.add(steps.read(Source.K, 4), Mark("position", position, 4, label=f"{high}"))
    levels = bench.run(recipe)
    arm = (
        bench.fixture.resistor("weak_load").typ + bench.fixture.driver.typ + bench.fixture.raw["mux"]["ron_ohm"]["typ"]
    )
    high_at, low_at = levels.by_position("True"), levels.by_position("False")
    return {p: (_through(arm, high_at[p]), _through(arm, 1 - low_at[p])) for p in positions}


def _through(arm: float, level: float, end: float = 0.0) -> float | None:
    """Ohms from K to the rail that it is pulled to, against a known arm to a level `end` away from the other; levels from there."""
    return arm * (1 - level) / (level - end) if level > end + 0.15 else None


def _strong(bench: Bench, positions: list[int]) -> dict[int, tuple[float | None, float | None]]:
    """Ohms of S when high and low, by the level drive at the other level."""
    recipe, full = bench.recipe(), bench.fixture.full_scale
    load = 0 if LEVEL in bench.bad_loads else LEVEL
    for high in (True, False):
        recipe.add(steps.level(round(full * (ASIDE if high else 1 - ASIDE))))
        recipe.settle(30000)
        recipe.lines_gone()
        for position in positions:
            # First K is charged to the other level: where no line reaches it, it stays there.
            recipe.sense(position, WEAK, LineLevel.LOW if high else LineLevel.HIGH)
            recipe.settle(100)
            recipe.add(
                steps.load(position, S_LINE, load, int(high), 0, 4, 50), Mark("position", position, 4, label=f"{high}")
            )
        recipe.selector_open()
    recipe.add(steps.level(0))
    levels = bench.run(recipe)
    arm = bench.fixture.resistor("level_drive").typ + bench.fixture.raw["mux"]["ron_ohm"]["typ"]
    high_at, low_at = levels.by_position("True"), levels.by_position("False")
    if not load:  # no level to pull against: only whether it reaches K at all
        guess = _line_ohm(bench, S_LINE) + sum(CHANNEL) / 2
        return {p: (guess if high_at[p] > 0.9 else None, guess if low_at[p] < 0.1 else None) for p in positions}
    return {p: (_through(arm, high_at[p], ASIDE), _through(arm, 1 - low_at[p], ASIDE)) for p in positions}


def _centred(bench: Bench, medium: dict[int, Ohms], strong: dict[int, Ohms]) -> dict[int, Ohms]:
    """What most positions have in common is the load they are measured by, not their lines: it is taken off here.

    That a load is not what it should be shows in `values`.
    """
    apart = [
        s - m
        for m, s in ((_beyond(bench, M_LINE, medium[p]), _beyond(bench, S_LINE, strong[p])) for p in strong)
        if m is not None and s is not None
    ]
    off = median(apart) if apart else 0.0
    return {p: _less(ohms, off) for p, ohms in strong.items()}


def _less(ohms: Ohms, off: float) -> Ohms:
    return None if ohms[0] is None else ohms[0] - off, None if ohms[1] is None else ohms[1] - off


Ohms = tuple[float | None, float | None]


def _judge(bench: Bench, position: int, medium: Ohms, strong: Ohms) -> None:
    """Both lines of a position; what they have in common is the channel to K."""
    m, s = _beyond(bench, M_LINE, medium), _beyond(bench, S_LINE, strong)
    if m is not None and s is not None and _is_channel(m) and _is_channel(s) and abs(m - s) < APART:
        return
    bench.spoilt.add(position)
    names = bench.names
    mux, resistors = names.mux(names.package(position)), [names.resistor(line, position) for line in (M_LINE, S_LINE)]
    if not any(medium) and not any(strong):
        bench.report.fault(
            "sense channel",
            f"Nothing of position {position} reaches node K, through neither line: channel "
            f"{names.mux_channel(position)} "
            f"is open, or {resistors[0]} and {resistors[1]} both are.",
            "sense-multiplexers",
            mux,
            *resistors,
        )
    elif m is None or s is None:
        for line, beyond, ohms in ((M_LINE, m, medium), (S_LINE, s, strong)):
            if beyond is None:
                _dead(bench, position, line, ohms)
            elif not _is_channel(beyond):
                _value(bench, position, line, beyond - sum(CHANNEL) / 2)
    elif min(m, s) > CHANNEL[1] and abs(m - s) < APART + 0.2 * m:
        bench.report.fault(
            "sense channel",
            f"Channel {names.mux_channel(position)} (position {position}) has some {(m + s) / 2:.0f} ohm, about "
            f"{sum(CHANNEL) / 2:.0f} is right: it is bad, or a joint of {mux} is.",
            "sense-multiplexers",
            mux,
        )
    elif m < -100 and abs(_line_ohm(bench, M_LINE) + m - _line_ohm(bench, S_LINE) - s) < APART:
        pins = [names.line_pin(line, position) for line in (M_LINE, S_LINE)]
        bench.report.fault(
            "bridged lines",
            f"Both lines of position {position} drive together: {pins[0]} and {pins[1]} are bridged.",
            "bridges",
            *pins,
        )
    else:
        wrong = [(line, beyond) for line, beyond in ((M_LINE, m), (S_LINE, s)) if not _is_channel(beyond)]
        for line, beyond in wrong or [max(((M_LINE, m), (S_LINE, s)), key=lambda one: abs(one[1] - sum(CHANNEL) / 2))]:
            other = s if line == M_LINE else m
            _value(bench, position, line, beyond - (other if _is_channel(other) else sum(CHANNEL) / 2))


def _is_channel(ohm: float) -> bool:
    return CHANNEL[0] < ohm < CHANNEL[1]


def _line_ohm(bench: Bench, line: int) -> float:
    """Of a line and its pin, nominally."""
    return (
        bench.fixture.resistor("medium_drive" if line == M_LINE else "strong_drive").typ + bench.fixture.driver.middle
    )


def _beyond(bench: Bench, line: int, ohms: Ohms) -> float | None:
    """What is left for the channel, ohms; None if the line does not reach K at one level or both."""
    high, low = ohms
    return None if high is None or low is None else (high + low) / 2 - _line_ohm(bench, line)


def _dead(bench: Bench, position: int, line: int, ohms: Ohms) -> None:
    names, word = bench.names, "medium" if line == M_LINE else "strong"
    resistor, pin = names.resistor(line, position), names.line_pin(line, position)
    if any(ohms):
        level = "high" if ohms[0] is None else "low"
        bench.report.fault(
            "lines",
            f"The {word} line of position {position} does not go {level}: look at controller pin {pin}.",
            "lines",
            pin,
        )
    else:
        bench.report.fault(
            "lines",
            f"The {word} line does not reach position {position}: {resistor} or a joint of it is open, or {pin} does "
            f"not drive.",
            "lines",
            resistor,
            pin,
        )


def _value(bench: Bench, position: int, line: int, more: float) -> None:
    names, role = bench.names, "medium_drive" if line == M_LINE else "strong_drive"
    nominal, resistor = bench.fixture.resistor(role).typ, names.resistor(line, position)
    measured = max(nominal + more, 0.0)
    bench.report.fault(
        "resistor value",
        f"{resistor} (the {role.split('_')[0]} line of position {position}) measures some {measured:.0f} ohm; "
        f"{nominal:g} ohm "
        "belongs there.",
        "resistor-values",
        resistor,
    )
