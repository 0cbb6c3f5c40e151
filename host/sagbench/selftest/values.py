"""Every resistor that drives or loads a position, to a few per cent: the readings of a calibration's first stage explained
by parts within their data-book spans, and which part must be outside where they cannot be.

How the part is found: of all whose freeing would explain more of the readings, the one that explains most; it is set
free and the rest is looked at again.  Common practice in the adjustment of survey networks (Baarda's data snooping).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from sagbench.calibrate import plan
from sagbench.calibrate.alone import seen
from sagbench.calibrate.evaluate import observations, prepare
from sagbench.calibrate.fit import Fit, fit
from sagbench.calibrate.parts import HALF, LOADS, ROLE
from sagbench.calibrate.session import Session
from sagbench.plan.fixture import Fixture, Spread
from sagbench.plan.seat import mask
from sagbench.selftest.bench import Bench, Refused
from sagbench.wire import steps

SUSPECT = 5.0  # standard deviations that a part would have to be off: specimens end at 2.3, a resistor and two pins together at 3.5
SUSPECT_LOAD = 4.0  # loads have no pin of their own, and are few
MOST = 6  # parts found wrong: more than that is something else
FREE = 300.0  # times as far as its data book says: what a part may be off that has been found wrong


@dataclass(frozen=True)
class Wrong:
    """A part outside its span: name of its unknown, what it is, standard uncertainty."""

    name: str
    value: float
    u: float


def values(bench: Bench) -> None:
    """Resistors and channels of all positions that are not spoilt, and the loads."""
    session = _measured(bench)
    if not session.seen:
        bench.report.not_tested(
            "resistor values",
            "The resistors' values were not measured: that takes two supply and two ground switches that work, "
            "at positions that can be seen.",
            "resistor-values",
        )
        return
    wrong = find_wrong(bench.fixture, session)
    if wrong is None:
        bench.report.unsure(
            "resistor values",
            "The readings of the lines do not fit together, and no single part explains them: look for bad joints, and "
            "for "
            "a supply that is not steady.",
            "resistor-values",
        )
        return
    for one in wrong:
        _tell(bench, one)
    if not wrong:
        at = sum(1 for p in bench.positions if p not in bench.spoilt)
        bench.report.fine(
            "resistor values",
            f"The readings of {at} positions and of the loads fit together with every resistor and channel within its "
            "tolerance.",
            "resistor-values",
        )


def find_wrong(fixture: Fixture, session: Session) -> list[Wrong] | None:
    """Parts that must be outside their spans; None if the readings cannot be explained."""
    names = _names(fixture)
    wrong: list[str] = []
    try:
        while len(wrong) <= MOST:
            parts = prepare(fixture, session)  # each part by itself, not as one of a reel
            alone = {name: 1 / HALF for name in parts.index if name.startswith("own ")}
            found = fit(parts.widen({**alone, **dict.fromkeys(wrong, FREE)}), observations(fixture, session))
            worst, size = max(
                ((n, _suspicion(found, n)) for n in names if n not in wrong and n in found.parts.index),
                key=lambda one: one[1],
            )
            if size < (SUSPECT if "[" in worst else SUSPECT_LOAD):
                return [Wrong(n, found.value(n), found.u(n)) for n in wrong]
            wrong.append(worst)
    except ValueError:
        pass
    return None


def _suspicion(found: Fit, name: str) -> float:
    """Standard deviations by which the readings want this part off, were it free."""
    i = found.parts.index[name]
    return abs(found.x[i]) / sqrt(max(1 - found.variance(i), 1e-6))


# ------------------------------------------------------------------ readings
def _measured(bench: Bench) -> Session:
    """Readings of all positions that can be had, without those of loads that are known to be bad."""
    session = Session(0, bench.fixture.wiring_id, "", "")
    for supply, ground, positions in _powerings(bench):
        shots = plan.Shots()
        _calm(bench, shots)
        plan.lines(shots, bench.fixture, supply, ground, positions, quiet=lambda shots: _calm(bench, shots))
        try:
            session.seen += [
                s for s in seen(shots, bench.play(shots.recipe), "self") if s.setup.selector not in bench.bad_loads
            ]
        except Refused as refused:
            at = next((e.position for e in refused.events if e.position), 0)
            bench.report.unsure(
                "resistor values",
                f"The firmware broke off at position {at} ({refused}): it is not as it should be.",
                "resistor-values",
            )
            bench.spoilt.add(at)
            return _measured(bench) if at in positions else session
        except ValueError:
            return session
    return session


def _calm(bench: Bench, shots: plan.Shots) -> None:
    """Positions whose strong line is dead cannot be discharged by it, which the firmware would take for a fight."""
    shots.recipe.idle()
    shots.recipe.add(steps.drive(mask(bench.spoilt), 0, 0, 0))
    shots.recipe.settle(200)
    shots.recipe.lines_gone()


def _powerings(bench: Bench) -> list[tuple[int, int, tuple[int, ...]]]:
    """Like `plan.powerings`, with switches that work."""
    fixture = bench.fixture
    supplies = [p for p in fixture.supply_positions if p not in bench.spoilt]
    grounds = [p for p in fixture.ground_positions if p not in bench.spoilt]
    if len(supplies) < 2 or len(grounds) < 2:
        return []
    free = [p for p in bench.positions if p not in bench.spoilt]
    first, second = (supplies[0], grounds[0]), (supplies[1], grounds[1])
    return [(*first, tuple(p for p in free if p not in first)), (*second, first)]


def _names(fixture: Fixture) -> list[str]:
    """Unknowns that stand for one part each."""
    lines = [f"own {role}[{p}]" for role in ROLE.values() for p in fixture.present]
    channels = [f"own channel[{p}]" for p in fixture.present]
    return [*lines, *channels, *LOADS.values(), "level_drive"]


# ------------------------------------------------------------------ words
def _tell(bench: Bench, one: Wrong) -> None:
    names, fixture = bench.names, bench.fixture
    role, _, rest = one.name.removeprefix("own ").partition("[")
    position = int(rest[:-1]) if rest else 0
    if role == "channel":
        bench.report.fault(
            "sense channel",
            f"Channel {names.mux_channel(position)} (position {position}) has {one.value:+.0f} ohm against the others "
            f"of its "
            "package: it is bad, or a joint of it is.",
            "sense-multiplexers",
            names.mux(names.package(position)),
        )
        return
    part, span = names.part(role, position), Spread.of(fixture.raw["resistor"][role])
    where = f" ({role.split('_')[0]} line of position {position})" if position else f" ({role.replace('_', ' ')})"
    bench.report.fault(
        "resistor value",
        f"{part}{where} is {one.value:.0f} ohm, within {2 * one.u:.0f} ohm; {span.min:.0f} to {span.max:.0f} ohm "
        f"belong "
        "there.",
        "resistor-values",
        part,
    )
