"""Which family the silicon is of, from its electrical figures.

A small likelihood model.  For each family the `[typical]` table of its file gives, for each trait, what sound
specimens have and how far they differ (one standard deviation, makers and specimens together; sources there).  A
measured trait is compared by Student's t with NU degrees of freedom, scale sqrt(sd^2 + u^2): heavy tails, for
tables from memory must not make anybody sure beyond reason.  Supply current is compared with what the data book
gives for this function in each family, by its logarithm.  Traits count as independent.  Bayes' rule makes
probabilities of it; the family of the marking has half of the odds beforehand, for most chips are what they say.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from math import exp, hypot, lgamma, log, pi
from typing import Any

from sagbench.judge.limits import in_amperes, in_volts
from sagbench.judge.supply import usual
from sagbench.judge.traits import OWN, Trait, made_like, traits
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import supply_states
from sagbench.parts.model import Part, SupplyState
from sagbench.parts.ratings import ORDER, table
from sagbench.record import FamilyGuess, Finding, Outcome, SweepRecord

NU = 5.0
RARE = ("DTL", "93L", "TTL")  # considered only where the marking is of them
LEAST = -9.0  # one trait counts against a family by no more than this (natural logarithm): a fault may spoil one
ICC_SD, ICC_GUESS_SD = 0.28, 0.45  # spread of ln(ICC / typical); where only a limit is known
FEWEST = 2  # traits without which nothing is said
SURE = 0.98  # so likely the silicon must be another family's for the marking to be called wrong
TWINS_SURE = 0.94  # or so likely, of two families that differ in one trait alone
CLEAR = 1.2  # at least FEWEST traits must each speak so much (natural logarithm) against the marked family,
TOGETHER = 6.0  # and all that speak against it so much together
FAR, FARTHER = 3.0, 8.0  # so far (standard deviations) in two of these, or in one, a whole chip is out of character:
SAYING = ("iil_ma", "vt_v", "vol_light_v", "rol_ohm", "voh_drop_v")  # ICC is judged by itself
NEAR = 2.0  # a supply current so many of its spreads away still fits a family
LEFT = 0.02  # families likelier than this are not ruled out
MILLI = {"iil_ma", "ios_ma"}  # keys whose table figures are in milliamperes

WORDS = {
    "iil_ma": "an input delivers {} when low",
    "vt_v": "an input's threshold is {}",
    "vol_light_v": "a low output under light load is at {}",
    "rol_ohm": "the resistance of a low output is {}",
    "voh_drop_v": "a high output under light load is {} below the supply",
    "ios_ma": "a shorted output delivers {}",
    "icc": "the supply current is {} times what is typical",
}


@dataclass(frozen=True)
class Match:
    """One trait against one family: log likelihood, and how many standard deviations it is away."""

    trait: str
    score: float
    away: float
    typical: float


def name_of(family: str) -> str:
    """How sentences call a family: "74LS", "plain 74", "4000B"."""
    if family in ("", PLAIN):
        return "plain 74"
    if family == "TTL":
        return "plain TTL"
    return family if family[0].isdigit() or family == "DTL" else f"74{family}"


def families_for(marked: str) -> tuple[str, ...]:
    """Those that come into question for a marking of this family."""
    return tuple(f for f in ORDER if f not in RARE or f == marked)


def student(z: float, scale: float) -> float:
    """Log density of Student's t with NU degrees of freedom, `z` scales from its middle."""
    constant = lgamma((NU + 1) / 2) - lgamma(NU / 2) - 0.5 * log(NU * pi) - log(scale)
    return constant - (NU + 1) / 2 * log(1 + z * z / NU)


def matches(part: Part, record: SweepRecord, family: str, found: Mapping[str, Trait]) -> list[Match]:
    """Every trait against this family; scores relative to the best any family could have, never below LEAST."""
    out = []
    usual: Mapping[str, Any] = table(family).get("typical", {})
    for key, trait in found.items():
        if key not in usual:
            continue
        unit = 1e-3 if key in MILLI else 1.0
        typical, sd = usual[key]["value"] * unit, usual[key]["sd"] * unit
        scale = hypot(sd, trait.u)
        z = (trait.value - typical) / scale
        out.append(Match(key, student(z, scale / _unit_scale(key)), z, typical))
    out += _supply(part, record, family)
    return out


def _unit_scale(key: str) -> float:
    """A scale in which densities of all traits are of the order of one."""
    return {"iil_ma": 1e-4, "ios_ma": 1e-2, "rol_ohm": 5.0}.get(key, 0.1)


def _supply(part: Part, record: SweepRecord, family: str) -> list[Match]:
    """Supply current in all static states as one trait: the median of its logarithms."""
    typical = _typical_supply(part, family)
    ratios = []
    for f in record.supply:
        if f.value is not None and f.value.value > 2 * f.value.u and typical:
            ratios.append(_ratio(f.value.value, f.state, typical))
    if not ratios:
        return []
    ratio, sd = sorted(ratios)[len(ratios) // 2]
    return [Match("icc", student(ratio / sd, sd / 0.3), ratio / sd, exp(ratio))]


def _ratio(amperes: float, state: str, typical: Mapping[str, tuple[float, float]]) -> tuple[float, float]:
    """(ln of the current over what is typical, its spread); a state that the family's book does not name: whichever is nearest."""
    if state in typical:
        return log(amperes / typical[state][0]), typical[state][1]
    ratios = [(log(amperes / i), sd) for i, sd in typical.values()]
    (least, sd), (most, other) = min(ratios), max(ratios)
    return (0.0, sd) if least < 0 < most else (least, sd) if least > 0 else (most, other)


def _typical_supply(part: Part, family: str) -> dict[str, tuple[float, float]]:
    """State -> (typical amperes, spread of the logarithm) of this function in that family; bipolar families only."""
    if table(family)["technology"] != "ttl":
        return {}
    if family == made_like(part):
        return _with_spread(part.supply_states)
    return _of_library(part.function, family)


@cache
def _of_library(function: str, family: str) -> dict[str, tuple[float, float]]:
    """The same of a part of the library; empty if this function was not made in that family."""
    return _with_spread(supply_states(function, family))


def _with_spread(states: Iterable[SupplyState]) -> dict[str, tuple[float, float]]:
    return {
        state.name: (amperes, ICC_SD if state.typical else ICC_GUESS_SD)
        for state in states
        if (amperes := usual(state))
    }


def by_supply(part: Part, amperes: float) -> list[str]:
    """Families in which this function draws so much, in some state or between two; those that it fits best first."""
    fit = {}
    for family in families_for(made_like(part)):
        typical = _typical_supply(part, family)
        away = [log(amperes / i) / sd for i, sd in typical.values()]
        if away and family != made_like(part):
            fit[family] = 0.0 if min(away) < 0 < max(away) else min(map(abs, away))
    return sorted((f for f, away in fit.items() if away < NEAR), key=lambda f: fit[f])


def guess(part: Part, record: SweepRecord) -> tuple[FamilyGuess, ...]:
    """Families by how well they explain the figures, likeliest first; empty if there is too little to go by, or the part is made like none."""
    found = traits(part, record)
    if len(found) < FEWEST or part.silicon == OWN:
        return ()
    marked = made_like(part)
    by_family = {f: matches(part, record, f, found) for f in families_for(marked)}
    scores = _scores(by_family)
    prior = {f: log(0.5 if f == marked else 0.5 / max(len(by_family) - 1, 1)) for f in by_family}
    top = max(scores[f] + prior[f] for f in by_family)
    weights = {f: exp(scores[f] + prior[f] - top) for f in by_family}
    total = sum(weights.values())
    order = sorted(weights, key=lambda f: -weights[f])
    left = [f for f in order if weights[f] / total >= LEFT]
    return tuple(
        FamilyGuess(_told(part, f), weights[f] / total, _evidence(f, by_family[f], found, left if f == order[0] else []))
        for f in order
    )


def _told(part: Part, family: str) -> str:
    """The name that a guess bears: the part's own family where it is made like another and is that."""
    return part.family or PLAIN if family == made_like(part) else family


def _scores(by_family: Mapping[str, list[Match]]) -> dict[str, float]:
    """Sum over traits, each relative to the family it fits best and bounded; a trait a family has no figure for is neutral."""
    best: dict[str, float] = {}
    for some in by_family.values():
        for m in some:
            best[m.trait] = max(m.score, best.get(m.trait, m.score))
    neutral = {t: sum(max(m.score - best[t], LEAST) for some in by_family.values() for m in some if m.trait == t)
               / sum(m.trait == t for some in by_family.values() for m in some) for t in best}
    out = {}
    for family, some in by_family.items():
        have = {m.trait: max(m.score - best[m.trait], LEAST) for m in some}
        out[family] = sum(have.get(t, neutral[t]) for t in best)
    return out


def _evidence(family: str, some: Iterable[Match], found: Mapping[str, Trait], left: list[str]) -> tuple[str, ...]:
    """Sentences: what speaks for the family first, then what against it, then what it cannot be told from."""
    out = []
    for m in sorted(some, key=lambda m: abs(m.away)):
        word = "for it" if abs(m.away) < 2 else "against it" if abs(m.away) > 3 else "not against it"
        out.append(f"{word}: {said(m.trait, found, m)}")
    if len(left) > 1:
        others = " or ".join(name_of(f) for f in left[1:])
        out.append(f"not ruled out by what was measured: {others}")
    return tuple(out)


def said(key: str, found: Mapping[str, Trait], match: Match) -> str:
    """One trait in words, with what is typical."""
    if key == "icc":
        return WORDS[key].format(f"{match.typical:.2f}")
    return f"{WORDS[key].format(in_words(key, found[key].value))} (typical: {in_words(key, match.typical)})"


def in_words(key: str, value: float) -> str:
    """A trait's figure with its unit."""
    if key in MILLI:
        return in_amperes(abs(value)) if value else "nothing"
    return f"{value:.0f} ohm" if key == "rol_ohm" else in_volts(value)


def mismatch(part: Part, record: SweepRecord, guesses: tuple[FamilyGuess, ...]) -> Finding | None:
    """A finding if the silicon is surely of another family than the marking: remarked, or the wrong part.

    BEYOND where the chip breaks limits of the marked family as well, else ODD.
    """
    marked, told = made_like(part), part.family or PLAIN
    if not guesses or guesses[0].family == told:
        return None
    other = guesses[0].family
    likely = 1 - next((g.probability for g in guesses if g.family == told), 0.0)
    found = traits(part, record)
    ours = {m.trait: m for m in matches(part, record, marked, found)}
    theirs = {m.trait: m for m in matches(part, record, other, found)}
    against = sorted(
        (t for t in ours if t in theirs and theirs[t].score - ours[t].score > CLEAR),
        key=lambda t: ours[t].score - theirs[t].score,
    )
    together = sum(theirs[t].score - ours[t].score for t in against)
    if _differ_in(marked, other) == set(against):  # the one figure that tells the two says all there is to say
        if 1 / (1 + exp(-together)) < TWINS_SURE:
            return None
    elif likely < SURE or len(against) < FEWEST or together < TOGETHER:
        return None
    because = "; ".join(_both(t, found, ours[t], theirs[t], marked, other) for t in against[:3])
    alike = [name_of(g.family) for g in guesses if g.probability >= LEFT and g.family != other]
    whose = " or ".join([name_of(other), *alike])
    broken = any(f.outcome is Outcome.BEYOND for f in record.reasons)
    whence = f"as a {part.name} is" if part.silicon else "as marked"
    return Finding(
        "family",
        Outcome.BEYOND if broken else Outcome.ODD,
        f"its silicon is that of {whose}, not of {name_of(marked)} {whence}: a remarked or wrong part (evidence: {because})",
        state="wrong family",
        weight=99.8,
    )


def _differ_in(family: str, other: str) -> set[str]:
    """The traits in which the two families are not the same by their tables, if it is one; HC and HCT are such twins."""
    ours, theirs = (table(f).get("typical", {}) for f in (family, other))
    differ = {t for t in ours if t in theirs and ours[t]["value"] != theirs[t]["value"]}
    return differ if len(differ) == 1 else set()


def unlike(part: Part, record: SweepRecord) -> list[Finding]:
    """Findings ODD: traits of the whole chip that are unlike its own family, though no other family fits."""
    marked = made_like(part)
    if marked == OWN:
        return []
    found = traits(part, record)
    usual: Mapping[str, Any] = table(marked).get("typical", {})
    away = [m for m in matches(part, record, marked, found) if m.trait in SAYING and abs(m.away) > FAR]
    out = []
    for m in away:
        if len(away) > 1 or abs(m.away) > FARTHER:
            sd = usual[m.trait]["sd"] * (1e-3 if m.trait in MILLI else 1.0)
            sentence = (
                f"{WORDS[m.trait].format(in_words(m.trait, found[m.trait].value))} where {name_of(marked)} has "
                f"{in_words(m.trait, m.typical)}, give or take {in_words(m.trait, sd)}: the whole chip is unlike its family"
            )
            out.append(Finding("family", Outcome.ODD, sentence, state="unlike its family", source=usual[m.trait]["source"], weight=27.0))
    return out


def _both(key: str, found: Mapping[str, Trait], ours: Match, theirs: Match, marked: str, other: str) -> str:
    if key == "icc":
        return f"its supply current is {ours.typical:.2f} times what is typical of {name_of(marked)}"
    return (
        f"{WORDS[key].format(in_words(key, found[key].value))} where {name_of(marked)} has "
        f"{in_words(key, ours.typical)} and {name_of(other)} {in_words(key, theirs.typical)}"
    )
