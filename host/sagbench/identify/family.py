"""Which family an identified chip is of: a rough guess from what its inputs delivered, then the electrical fingerprint.

The fingerprint (`judge.fingerprint`) needs the figures of a sweep, and a sweep needs a part to load the chip by: that
is the guess.  Loads of another family do no harm (a remarked chip is swept every day), so the guess may be wrong.
Members that differ only in hysteresis are told apart before, by a sweep that asks for both thresholds.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import log
from statistics import median

from sagbench.device import Device
from sagbench.errors import DeviceError
from sagbench.identify.candidates import Candidate
from sagbench.identify.hysteresis import agreeing, hysteresis, to_be_asked
from sagbench.judge.fingerprint import families_for, guess
from sagbench.parts import load_part
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Part, Role
from sagbench.parts.names import type_name
from sagbench.parts.ratings import table
from sagbench.record import FamilyGuess, SweepRecord
from sagbench.sweep import sweep
from sagbench.sweep.state import Options

NOISE_A = 20e-6  # currents through M are good to so much
RARE = ("DTL", "93L", "TTL")  # whole series of their own: not preferred where there is a choice
HALF = 0.5  # odds that `guess` gives to the family of the marking, here only a guess


@dataclass(frozen=True)
class Fingerprint:
    """Families likeliest first, the part that the chip was swept as, and the record of that.

    members: those of the class that have hysteresis where the chip has it; `volts`: what it was, by pin, if it was asked for.
    """

    part: Part
    record: SweepRecord
    families: tuple[FamilyGuess, ...]
    members: tuple[Candidate, ...] = ()
    volts: Mapping[int, float] = field(default_factory=dict)


def members_first(members: Iterable[Candidate]) -> list[Candidate]:
    """The members of a class, those made in most families first: the plain part before its rare relatives."""
    return sorted(members, key=lambda c: (-len(c.families), c.families[0] in RARE, len(c.function), c.function))


def rough_part(member: Candidate, low_amperes: Mapping[int, Sequence[float]], user_dirs: Iterable[str] = ()) -> Part:
    """The member in that of its families whose inputs deliver most nearly what these did (pin -> amperes, held low).

    Of each input the most that was seen counts, for inputs of one gate share its current while both are low.
    """
    parts = [load_part(type_name(member.function, family, 74), user_dirs=tuple(user_dirs)) for family in member.families]
    return min(parts, key=lambda part: _away(part, low_amperes))


def _away(part: Part, low_amperes: Mapping[int, Sequence[float]]) -> float:
    """Median over the inputs of how far (natural logarithm) what they delivered is from what is typical of the part."""
    data = table(part.family or PLAIN)
    usual = data.get("typical", {}).get("iil_ma", data["input"]["iil_ma"])
    unit = -usual.get("value", usual.get("min", 0.0)) * 1e-3
    found = [
        log((max(*low_amperes[pin.number], 0.0) + NOISE_A) / (unit * pin.low_unit_loads + NOISE_A))
        for pin in part.of_role(Role.INPUT) if low_amperes.get(pin.number)
    ]  # fmt: skip
    return abs(median(found)) if found else 0.0


def fingerprint(
    device: Device, members: Sequence[Candidate], low_amperes: Mapping[int, Sequence[float]], *,
    options: Options | None = None, user_dirs: Iterable[str] = (), progress: Callable[[str, int, int], None] | None = None,
) -> Fingerprint | None:  # fmt: skip
    """Sweep the chip as the likeliest of the members that hysteresis leaves; None if the fixture cannot.  Raises LinkError."""
    volts: Mapping[int, float] = {}
    swept = None
    try:
        if asked := to_be_asked(members_first(members)):  # first of all: the threshold of a Schmitt input is that of no family
            swept = _swept_as(asked, device, low_amperes, options, user_dirs, progress)
            volts = hysteresis(swept[1])
        left = members_first(agreeing(members, volts))
        if swept is None or swept[0].function not in {m.function for m in left}:
            swept = _swept_as(left[:1], device, low_amperes, options, user_dirs, progress)
    except DeviceError:
        return None
    part, record = swept
    made = {f for m in left for f in m.families}
    return Fingerprint(part, record, _evenly(guess(part, record), part.family or PLAIN, made), tuple(left), volts)


def _swept_as(
    members: Iterable[Candidate], device: Device, low_amperes: Mapping[int, Sequence[float]], options: Options | None,
    user_dirs: Iterable[str], progress: Callable[[str, int, int], None] | None,
) -> tuple[Part, SweepRecord]:  # fmt: skip
    part = min((rough_part(m, low_amperes, user_dirs) for m in members), key=lambda one: _away(one, low_amperes))
    return part, sweep(device, part, options=options, progress=progress)


def _evenly(guesses: Sequence[FamilyGuess], marked: str, made: set[str]) -> tuple[FamilyGuess, ...]:
    """The guesses with all families as likely beforehand, of those that have the function."""
    others = max(len(families_for(marked)) - 1, 1)
    kept = [(g, g.probability / (HALF if g.family == marked else (1 - HALF) / others)) for g in guesses if g.family in made]
    total = sum(p for _, p in kept)
    if not total:
        return ()
    return tuple(sorted((replace(g, probability=p / total) for g, p in kept), key=lambda g: -g.probability))
