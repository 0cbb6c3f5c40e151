"""Power: where a part's rails are, the zero of the supply current, power-on, and the static supply states.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable

from sagbench.parts.model import Part, SupplyState
from sagbench.plan.drive import Drive, by_m
from sagbench.plan.fixture import Fixture
from sagbench.plan.level import volts_of
from sagbench.plan.logic import apply
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Mark, Recipe
from sagbench.plan.seat import mask
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source

GENEROUS = 3.0  # a chip that draws three times its limit is still measured, not just cut off,
ALLOWANCE_A = 0.060  # or limit and 60 mA, whichever is more: 0.3 W, no harm to any package
LEVEL_SETTLE_US = 25000  # two RC stages of 1 ms that load each other: within a fiftieth of a code of AVcc for COMMON_V
COMMON_V = 0.93  # the level read under AVcc and the 1.1 V reference: below that one's least, 1.0 V
PRECISE = 16  # conversions: noise of 0.12 codes, a small part of what the converter's non-linearity does
MOST_PRECISE = 64  # of the supply current: a code of the 2.56 V reference is 0.14 mA
WIDE_A = 0.080  # beyond this the 2.56 V reference could saturate


def largest_limit(part: Part) -> float:
    """The largest supply current the data book allows in any state; a plain guess by technology where it gives none."""
    given = [s.limit.value for s in part.supply_states if s.limit]
    bipolar = any(limits.technology == "ttl" for limits in part.limits.values())
    return max(given) if given else (0.050 if bipolar else 0.005)


def limit_code(fixture: Fixture, amperes: float, switches: int, reference: Reference = Reference.AVCC) -> int:
    """Code of the ICC amplifier for a chip current; pedestal, base currents and offset are added."""
    raw = fixture.raw
    gain = raw["icc_gain_ohm"]
    volts = fixture.raw["supply"]["nominal_v"]
    standing = volts / fixture.resistor("pedestal").typ + switches * base_current(fixture)
    offset = raw["amplifier"]["offset_mv"]["max"] / 1000 * gain / fixture.resistor("shunt").typ
    top = raw["trip"]["total_ma"] / 1000
    full = volts if reference is Reference.AVCC else fixture.raw["adc"]["reference"][reference]["volts"]["min"]
    code = (min(amperes + standing, top) * gain + offset) / full * fixture.full_scale
    return min(int(code) + 1, fixture.full_scale - 1)


def base_current(fixture: Fixture) -> float:
    """Nominal current that one supply switch adds in the shunt: its base current (0.75 V is a saturated PNP's VBE)."""
    ohm = fixture.resistor("supply_switch_base").typ + fixture.raw["register_output_ohm"]["typ"]
    volts = fixture.raw["supply"]["nominal_v"] - 0.75
    return float(volts / ohm + 0.75 / fixture.resistor("supply_switch_off").typ)


def power_limit(fixture: Fixture, part: Part, switches: int, *, extra_a: float = 0.0) -> int:
    """The limit for `power_on`."""
    allowed = largest_limit(part)
    return limit_code(fixture, max(allowed * GENEROUS, allowed + ALLOWANCE_A) + extra_a, switches)


def common_code(fixture: Fixture) -> int:
    """Code of the level drive for the level that all references see."""
    return round(COMMON_V / volts_of(fixture, 1))


def start_common(recipe: Recipe, fixture: Fixture) -> int:
    """Start that level; the time, for `common_on_avcc`."""
    recipe.add(steps.level(common_code(fixture)))
    return recipe.at_least_us


def common_on_avcc(recipe: Recipe, started_us: int) -> None:
    """Once the level has settled it is read against AVcc (`common`): it is the same share of the rail ever after."""
    recipe.reference(Reference.AVCC)
    recipe.settle(LEVEL_SETTLE_US - (recipe.at_least_us - started_us))
    recipe.read(Source.VDAC, PRECISE, label="common")


def common_on_1v1(recipe: Recipe, fixture: Fixture) -> None:
    """The same level against 1.1 V (`common`): it settles while that reference does."""
    start_common(recipe, fixture)
    recipe.reference(Reference.V1V1)
    recipe.read(Source.VDAC, PRECISE, label="common")


def rail(recipe: Recipe, label: str = "rail") -> None:
    """The 5 V rail by the 2.5 V reference (`rail`). Leaves AVcc set."""
    recipe.reference(Reference.AVCC)
    recipe.read(Source.VREF, PRECISE, label=label)


def rail_now(recipe: Recipe) -> None:
    """The rail as the chip and its loads leave it (`rail now`): AVcc goes down with what the USB supply must give."""
    rail(recipe, "rail now")


def _icc_reference(wide: bool) -> Reference:
    return Reference.AVCC if wide else Reference.V2V56


def zero_at_rest(recipe: Recipe, *, wide: bool) -> None:
    """The ICC amplifier with nothing on (`rest`); the 2.5 V reference and the level against the same reference.

    Those are `reference` and `common`: specimens of the 2.56 V reference are below 2.5 V, and only the level tells them.
    """
    recipe.reference(_icc_reference(wide))
    recipe.read(Source.ICC, PRECISE, label="rest")
    recipe.read(Source.VREF, PRECISE, label="reference")
    recipe.read(Source.VDAC, PRECISE, label="common")
    recipe.add(steps.level(0))


def zero_switched(recipe: Recipe, fixture: Fixture, where: Rails, *, wide: bool) -> None:
    """The ICC amplifier with the supply switch on and no way to ground (`zero`): the switch's own base current.

    The chip draws nothing, for its ground hangs free.
    """
    reference = _icc_reference(wide)
    recipe.idle()
    recipe.reference(reference)
    limit = limit_code(fixture, ALLOWANCE_A, len(where.supplies), reference)
    recipe.power_on(where.supplies, 0, limit, label="zero at once")
    recipe.read(Source.ICC, MOST_PRECISE, label="zero")
    recipe.power_off()


def power_up(recipe: Recipe, fixture: Fixture, drive: Drive, where: Rails, limit: int) -> None:
    """Inputs low through M, so that none is above the supply; power on; verify the inputs that want S.

    Where a verification would be too much beside all of them, some hang till their turn has come.
    """
    kept = fixture.raw["budget_ma"]["strong_short"] if drive.strong else 0.0
    recipe.drive(*by_m(fixture, drive, kept_ma=kept).masks(dict.fromkeys(drive.plain, False)))
    recipe.power_on(where.supplies, where.ground, limit)
    for position in drive.strong:
        recipe.verify(position)


def at_rest(recipe: Recipe, drive: Drive, where: Rails) -> None:
    """All inputs low, and the rails at the chip's own pins: `supply` (each) and `ground`."""
    recipe.drive(*drive.masks(dict.fromkeys(drive.plain, False)))
    rail_now(recipe)
    for supply in where.supplies:
        recipe.read_position(supply, 16, label="supply")
    recipe.read_position(where.ground, 16, label="ground")


def supply_states(recipe: Recipe, states: Iterable[SupplyState], drive: Drive, *, wide: bool) -> None:
    """Each static state, then ICC, labelled by the state's name, and the inputs that are low (`inputs low: <state>`)."""
    recipe.reference(_icc_reference(wide))
    for state in states:
        levels: dict[int, bool | None] = {}
        for step in state.steps:
            apply(recipe, drive, levels, step)
        recipe.settle(1000)
        recipe.read(Source.ICC, MOST_PRECISE, label=state.name)
        low = {drive.seat.position(p): drive.lines[p] for p, v in levels.items() if v is False and drive.lines.get(p)}
        for position in sorted(low):
            recipe.sense(position)
            mark = Mark("position", position, 2, lines=low[position], label=f"inputs low: {state.name}")
            recipe.add(steps.read(Source.K, 2), mark)


def has_quiescent(fixture: Fixture, part: Part, drive: Drive) -> bool:
    """True for CMOS parts all of whose inputs M can drive at once, the supply pin besides: one that hangs is not at rest."""
    cmos = any(limits.technology == "cmos" for limits in part.limits.values())
    driven = all(pin.number in drive.lines for pin in part.inputs)
    return cmos and driven and len(by_m(fixture, drive, beside=1).lines) == len(drive.lines)


def quiescent(recipe: Recipe, fixture: Fixture, states: Iterable[SupplyState], drive: Drive, where: Rails) -> None:
    """CMOS: each state with the chip fed through the weak load alone, labelled `quiescent: <state>`.

    The ICC amplifier resolves a tenth of a milliampere, the weak load some microamperes.  M feeds the chip
    while the inputs change, then lets go.  All switches but ground are off.
    """
    supply = where.supplies[0]
    fed = mask([supply])
    weakly, weak = by_m(fixture, drive, beside=1), fixture.point("weak").load
    for state in states:
        recipe.idle()
        recipe.add(steps.ground(where.ground))
        levels: dict[int, bool | None] = {}
        for step in state.steps:
            levels.update(step.set)
            m_on, _, high = weakly.masks(levels)
            recipe.drive(m_on | fed, 0, high | fed)
            for pin, count in step.pulses.items():
                recipe.pulse(drive.seat.position(pin), count)
        recipe.settle(2000)
        recipe.sense(supply, weak, LineLevel.HIGH)
        recipe.pin(supply, 0)
        recipe.settle(1000)
        recipe.add(
            steps.read(Source.K, PRECISE),
            Mark("position", supply, PRECISE, selector=weak, up=True, label=f"quiescent: {state.name}"),
        )
        recipe.lines_gone()
    recipe.idle()
    recipe.add(steps.ground(0))
