"""First stage: rail, references, and the contact check of the unpowered chip.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from sagbench.errors import DeviceError
from sagbench.judge import contact as judge
from sagbench.judge.limits import listed, pin_name
from sagbench.judge.supply import usual
from sagbench.measure import contact as measure
from sagbench.measure.foreign import MOST_U, strangeness
from sagbench.measure.uncertain import standard, value
from sagbench.parts.model import Role
from sagbench.plan import contact as plan
from sagbench.plan import power
from sagbench.plan.recipe import Mark, Readings, Recipe
from sagbench.sweep.state import State
from sagbench.wire import steps

SPAN = ("rail, least", "rail, most", "icc, least", "icc, most")
RAIL_DIPPED = 0.03  # loads and a chip of 100 mA pull a sound USB supply by a hundredth
LITTLE_A = 0.004  # a bipolar chip that takes more than this in every state
LITTLE_SHARE = 0.25  # is not in its socket while it takes so little of the least of them
RAIL_MOVED = 0.015  # what the converter's offset and noise can feign is a third of this


def contact(s: State) -> None:
    """Rail, references, and the unpowered chip."""
    recipe = Recipe()
    recipe.power_off()
    started = power.start_common(recipe, s.fixture)
    power.rail(recipe)
    plan.channels(
        recipe, s.fixture, [s.seat.position(p.number) for p in s.part.pins if p.role not in (Role.SUPPLY, Role.GROUND)]
    )
    plan.conduction(recipe, s.fixture, [s.where.ground])
    plan.shorts(recipe, s.fixture, s.seat, s.where.ground)
    power.common_on_avcc(recipe, started)
    readings = s.run(recipe)
    learn_rail(s, readings)
    rail = value(s.model.rail)
    drops = measure.drops(s.fixture, readings, s.where.ground, rail)
    if not judge.looks_seated(s.part, s.seat, drops):
        look_for_it(s, rail)
    s.drops = drops
    ohms = {
        (p, s.where.ground): x for p, x in measure.ohms_to_raised(s.fixture, readings, s.where.ground, rail).items()
    }
    # A pin that is the chip's ground inside would raise that, and all outputs with it: no short is found so.
    grounds = {s.seat.position(p.number) for p in s.part.pins if p.grounded and judge.is_ground(drops, s.seat.position(p.number))}
    suspects = measure.pulled_low(s.fixture, readings, "against all", rail) - grounds
    pairs: dict[int, set[int]] = {}
    if suspects:
        recipe = Recipe()
        plan.pairs(recipe, s.fixture, s.seat, sorted(suspects))
        readings = s.run(recipe)
        for other in s.seat.positions:
            for position in measure.pulled_low(s.fixture, readings, f"against {other}", rail):
                pairs.setdefault(position, set()).add(other)
            for position, x in measure.ohms_low(s.fixture, readings, f"against {other}", rail).items():
                ohms[position, other] = x
    s.evidence.contact = judge.judge_contact(s.part, s.seat, drops, pairs, ohms)
    if s.evidence.contact.problem:
        s.give_up(s.evidence.contact.problem)
    s.plan_drive()


def learn_rail(s: State, readings: Readings) -> None:
    (rail,) = readings.labelled("rail")
    if not rail.code:
        raise DeviceError("The fixture's 2.5 V reference reads nothing: see that it is fitted the right way round.")
    s.model.learn_rail(rail)
    s.rail_code, s.rail_v = rail.code, value(s.model.rail)
    within_span(s, value(s.model.rail))
    (s.common,) = readings.labelled("common")
    channels = readings.labelled("channel")
    if (units := strangeness(s.model, channels)) > MOST_U:
        s.disown(
            f"this calibration ({s.model.priors.origin}) is not this fixture's: half of the multiplexer channels or more differ from it by "
            f"{units:.0f} standard uncertainties ({MOST_U:g} are allowed). Measured without it; calibrate again, and give no two fixtures "
            "one serial number"
        )
        s.model.learn_rail(rail)
    s.model.learn_channels(channels, readings.labelled("selector")[0])


def within_span(s: State, volts: float) -> None:
    """Raises DeviceError if the 5 V rail is surely outside what the fixture needs."""
    supply, doubt = s.fixture.raw["supply"], 2 * standard(s.model.rail)
    if not supply["min_v"] - doubt <= volts <= supply["max_v"] + doubt:
        raise DeviceError(
            f"The fixture's 5 V supply is {volts:.2f} V; it must be {supply['min_v']:.2f} to {supply['max_v']:.2f} V: "
            "use another USB port, a shorter cable or a powered hub."
        )


def rail_at_end(recipe: Recipe) -> None:
    """Power off, and the 5 V rail once more (`rail at the end`), under the same load as at the start: none.

    And what the firmware has seen of rail and ICC while there was power (`rail, least` ... `icc, most`).
    """
    recipe.power_off()
    power.rail(recipe, "rail at the end")
    recipe.add(steps.supply_span(), *(Mark("span", label=label) for label in SPAN))


def same_rail(s: State, readings: Readings) -> None:
    """Raises DeviceError if AVcc has moved since the sweep began: all figures rest on the first reading.

    By the ratio of two codes, in which the tolerance of the 2.5 V reference cancels.
    """
    (rail,) = readings.labelled("rail at the end")
    if not s.rail_code:
        return
    if not rail.code:
        raise DeviceError("The fixture's 2.5 V reference reads nothing any more; the figures cannot be trusted.")
    first = s.rail_v
    last = first * s.rail_code / rail.code
    if abs(last - first) > RAIL_MOVED * first:
        within_span(s, last)
        raise DeviceError(
            f"The fixture's 5 V supply has moved: it was {first:.2f} V at the start of the sweep and {last:.2f} V at "
            "its end; the figures cannot be trusted. Use a firmer USB supply: another port, a shorter cable or a "
            "powered hub."
        )


def steady_rail(s: State, readings: Readings) -> None:
    """Raises DeviceError if AVcc has left its powered value for a moment, further than loads can pull it."""
    for label, word in (("rail, most", "dipped"), ("rail, least", "rose")):
        (seen,) = readings.labelled(label)
        if seen.code and s.powered_code and abs(seen.code / s.powered_code - 1) > RAIL_DIPPED:
            volts = s.rail_v * s.rail_code / seen.code
            raise DeviceError(
                f"The fixture's 5 V supply {word} to {volts:.2f} V while the chip was powered; the figures cannot be "
                "trusted. Use a firmer USB supply: another port, a shorter cable or a powered hub."
            )


def still_there(s: State, recipe: Recipe) -> None:
    """What conducts from the ground position, once more, if it was looked at in the beginning."""
    if s.drops:
        plan.conduction(recipe, s.fixture, [s.where.ground])


def lost_contact(s: State, readings: Readings) -> None:
    """Nothing counts if pins that conducted in the beginning do so no more: the chip was pulled, or a leg lets go."""
    if not s.drops:
        return
    now = measure.drops(s.fixture, readings, s.where.ground, value(s.model.rail))
    had = [p for p, drop in s.drops.items() if judge.makes_contact(drop)]
    lost = [s.seat.pin_at(p) for p in had if now.get(p) is None]
    if not lost and not _starved(s, readings):
        return
    if not lost or len(lost) > len(had) / 2:
        what = "The chip was taken out, or lost contact, during the sweep"
    else:
        what = f"{listed(pin_name(s.part, pin) for pin in sorted(lost))} lost contact during the sweep"
    problem = f"{what}, so nothing measured counts: clean the legs, seat it firmly and start again."
    blank = s.blank()
    blank.contact = judge.nothing_known(s.part, problem)
    blank.problem, blank.partial, blank.started = problem, "contact lost", s.evidence.started
    s.evidence = blank


def _starved(s: State, readings: Readings) -> bool:
    """True if the supply current fell to nothing for a moment: the chip was out, and is in again."""
    (least,) = readings.labelled("icc, least")
    drawn = [value(figure.number) for figure in s.figures.icc.values()]
    # A short inside, or outputs of another part against driven lines, may take their current in the static states alone.
    drawn += [amperes for state in s.part.supply_states if (amperes := usual(state))]
    if not s.figures.icc or min(drawn) < LITTLE_A or least.code is None or any(z.total is None for z in s.seen_zero):
        return False
    return bool(s.seen_zero) and value(s.model.icc((least,), s.seen_zero)) < LITTLE_SHARE * min(drawn)


def look_for_it(s: State, rail: float) -> None:
    """Not where it should be: raise every position in turn and see which seating explains what conducts."""
    recipe = Recipe()
    everywhere = s.fixture.present
    plan.conduction(recipe, s.fixture, everywhere)
    readings = s.run(recipe)
    rows = {p: measure.drops(s.fixture, readings, p, rail) for p in everywhere}
    found, share = judge.find_seating(s.part, s.seat, s.fixture.sizes, rows)
    if found == s.seat and share >= judge.EXPLAINED:
        return
    if judge.ground_is_open(s.part, s.seat, rows):
        s.evidence.contact = judge.without_ground(s.part)
        s.give_up(s.evidence.contact.problem)
    problem = judge.not_seated(s.part, s.seat, found, share)
    s.evidence.contact = judge.nothing_known(s.part, problem)
    s.give_up(problem, seated=False)
