"""How an unknown chip sits and where its rails are, from what conducts without power.

From a chip's ground, raised, every other pin shows one junction: its clamp or the diode to the substrate.  From any
other pin only few do.  The library says which pins can be rails in a package of each size, and which pins have no
bond at all.  A hypothesis is a seating with the bonds of one pinout or more; its misfit counts

* 1 for each signal pin that should show a junction to ground and does not (an open bond, a dirty leg), and
* HARD for what no fault of one pin explains: a pin without a bond that conducts, a position beside the chip that
  does, a supply pin that does not, a signal pin that is tied to ground by less than a junction drops.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from sagbench.identify.candidates import Candidate, Rail
from sagbench.measure.contact import JUNCTION_V, SHORT_DROP_V, TIED_V
from sagbench.parts.model import Role
from sagbench.plan.seat import Seat, seatings

Drops = Mapping[int, float | None]  # position -> volts lost from the raised position; None: nothing conducts

HARD = 3  # misfit of what one bad pin cannot explain
OPEN_PINS = 1  # so many more open bonds than in the best hypothesis are believed
BEHIND_V = 0.1  # further from everything by so much: behind 200 ohm and more
MOST = 0.4  # a misfit of so many of the bonds explains nothing


@dataclass(frozen=True)
class Hypothesis:
    """A seating, the rails, and the candidates that have these; `misfit` in pins, of so many `bonds`."""

    seat: Seat
    rail: Rail
    misfit: int
    bonds: int
    candidates: tuple[Candidate, ...]

    def shorted(self, rows: Mapping[int, Drops]) -> bool:
        """True if ground and a supply pin are tied by less than any junction drops."""
        ground = self.seat.position(self.rail.grounds[-1])
        drops = [rows[ground].get(self.seat.position(pin)) for pin in self.rail.supplies]
        return any(drop is not None and drop < SHORT_DROP_V for drop in drops)

    def in_words(self) -> str:
        """The rails, and how the chip sits if not as it should."""
        as_it_should = not self.seat.reversed and not self.seat.shift
        return self.rail.in_words() + ("" if as_it_should else f", the chip {self.seat.in_words}")


@dataclass(frozen=True)
class Seating:
    """What the junctions say: hypotheses that are left, best first; `problem`, one sentence, if there are none."""

    left: tuple[Hypothesis, ...]
    problem: str = ""

    @property
    def settled(self) -> bool:
        """True if all that is left agrees where the rails are, and the chip sits as it should."""
        return len({(h.seat, h.rail.supplies, h.rail.grounds) for h in self.left}) == 1

    @property
    def turned(self) -> bool:
        """True if the best hypothesis is a chip that does not sit as it should."""
        return bool(self.left) and (self.left[0].seat.reversed or bool(self.left[0].seat.shift))


def find_seating(
    socket: int, sizes: Sequence[int], rows: Mapping[int, Drops], candidates: Iterable[Candidate],
    wanted: tuple[frozenset[int], frozenset[int]] | None = None,
) -> Seating:  # fmt: skip
    """The hypotheses that explain the rows (raised position -> drops) best.

    wanted: supply pins and ground pins that the user confirms; others are not considered.
    """
    if not any(_junction(drop) for row in rows.values() for drop in row.values()):
        return Seating((), "The socket looks empty, or the chip has no contact at ground: seat it with pin 1 in position 1 and try "
                       "again; if it does not help, its ground bond is open.")
    found = []
    for bonds, group in _groups(candidates).items():
        rail = group[0].rail
        if rail.size not in sizes or (wanted and (frozenset(rail.supplies), frozenset(rail.grounds)) != wanted):
            continue
        for seat in seatings(socket, (rail.size,)):
            if all(seat.position(pin) in rows for pin in rail.grounds):
                bonded = sum(role not in (Role.UNUSED, Role.ANALOG, Role.GROUND) for role in bonds)
                found.append(Hypothesis(seat, rail, _misfit(seat, rail, bonds, rows), bonded, tuple(group)))
    if not found:
        return Seating((), "Nothing in the library has its supply and ground pins there; name others, or leave --power out.")
    found.sort(key=lambda h: (h.misfit, h.seat.reversed, h.seat.shift != 0))
    found = [h for h in found if h.misfit <= MOST * h.bonds]
    if not found:
        return Seating((), "No seating of any chip in the library explains what conducts: clean the legs and seat it again; "
                       "its ground bond may be open, or it is none of the library's.")
    if found[0].shorted(rows):
        return Seating((), f"Its {found[0].rail.in_words()} are as good as shorted. It was not powered.")
    least = found[0].misfit
    place = found[0].seat
    close = [h for h in found if h.misfit <= least + OPEN_PINS]
    close = [h for h in close if not any(o.seat == h.seat and _behind(h, o, rows) for o in close)]
    # Another seating must explain as much as the best one; other rails in the same seating may cost an open bond.
    return Seating(tuple(_together(h for h in close if h.seat == place or h.misfit == least)))


def _junction(drop: float | None) -> bool:
    return drop is not None and drop <= JUNCTION_V


def _groups(candidates: Iterable[Candidate]) -> dict[tuple[Role, ...], list[Candidate]]:
    """Candidates with the same bonds, as far as the contact check can tell them."""
    told = (Role.SUPPLY, Role.GROUND, Role.UNUSED, Role.ANALOG)
    groups: dict[tuple[Role, ...], list[Candidate]] = {}
    for candidate in candidates:
        bare = candidate.pull.no_junction
        bonds = tuple(role if role in told else Role.ANALOG if pin in bare else Role.INPUT for pin, role in enumerate(candidate.roles, 1))
        groups.setdefault(bonds, []).append(candidate)
    return groups


def _misfit(seat: Seat, rail: Rail, bonds: Sequence[Role], rows: Mapping[int, Drops]) -> int:
    ground = seat.position(rail.grounds[-1])
    here = {p for p, drop in rows[ground].items() if drop is not None}
    junctions = {p for p, drop in rows[ground].items() if _junction(drop)}
    tied = {p for p, drop in rows[ground].items() if drop is not None and drop < SHORT_DROP_V}
    misfit = HARD * len(here - set(seat.positions))
    for pin, role in enumerate(bonds, start=1):
        position = seat.position(pin)
        if role is Role.UNUSED:
            misfit += HARD * (position in here)
        elif role is Role.SUPPLY:
            misfit += HARD * (position not in junctions)
        elif role not in (Role.ANALOG, Role.GROUND):
            misfit += HARD if position in tied else position not in junctions
    return misfit


def _behind(h: Hypothesis, other: Hypothesis, rows: Mapping[int, Drops]) -> bool:
    """True if what the one takes for ground is a resistor inside away from the other's, as an expander pin is: all else conducts behind it."""
    here, there = (one.seat.position(one.rail.grounds[-1]) for one in (h, other))
    between = rows[here].get(there), rows[there].get(here)
    mine, others = ([d for p, d in rows[p0].items() if d is not None and p not in (here, there)] for p0 in (here, there))
    if here == there or not mine or not others or any(d is None or d > TIED_V for d in between):
        return False
    return median(mine) > median(others) + BEHIND_V


def _together(hypotheses: Iterable[Hypothesis]) -> list[Hypothesis]:
    """Hypotheses of the same seat and rails as one, with the least misfit of them and all candidates."""
    merged: dict[tuple[Seat, Rail], Hypothesis] = {}
    for h in hypotheses:
        other = merged.get((h.seat, h.rail))
        merged[h.seat, h.rail] = (
            replace(other, misfit=min(h.misfit, other.misfit), candidates=other.candidates + h.candidates) if other else h
        )
    return list(merged.values())
