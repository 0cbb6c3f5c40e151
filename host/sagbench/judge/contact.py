"""What the contact check says: seated or not and how, open pins, shorts, and what may be driven nonetheless.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sagbench.judge.limits import listed, pin_name
from sagbench.measure.contact import JUNCTION_V, SHORT_DROP_V
from sagbench.parts.model import Part, Role
from sagbench.plan.seat import Seat, seatings
from sagbench.record import Contact, PinContact

Drops = Mapping[int, float | None]  # position -> volts, None: nothing conducts

PLAIN_SHORT_OHM = 80.0  # less is a short, for the figure is good to some 60 ohm; more is told with its ohms
ENOUGH = 0.6  # so many of the pins must show their junction for a chip to count as seated
ALMOST_ALL = 0.85  # and so many where one of them conducts through more than a junction
AS_GOOD_AS_OPEN_V = 3.0  # lost on the way to a pin at half a milliampere: more than some 10 kohm besides the junction
EXPLAINED = 0.7  # and a wrong seating must explain the pattern so well to be named


@dataclass(frozen=True)
class ContactReport:
    """The contact check, judged. `problem` is empty if the chip may be powered."""

    pins: tuple[PinContact, ...]
    problem: str = ""  # one sentence, if it may not be powered
    seated: bool = True
    held: frozenset[int] = frozenset()  # input pins not to be driven: shorted to a rail or an output
    weak: frozenset[int] = frozenset()  # input pins to be driven by M only: shorted to another input
    spoilt: frozenset[int] = frozenset()  # output pins that cannot be measured

    stuck: Mapping[int, bool | None] = field(
        default_factory=dict
    )  # shorted input -> level of the rail it is tied to, or None

    @property
    def shorted(self) -> tuple[PinContact, ...]:
        """Pins with a short."""
        return tuple(p for p in self.pins if p.contact is Contact.SHORTED)


def _has_junction(drop: float | None) -> bool:
    return drop is not None and drop <= JUNCTION_V


def makes_contact(drop: float | None) -> bool:
    """True if something conducts to the pin, by more than what trickles through an all but open bond."""
    return drop is not None and drop <= AS_GOOD_AS_OPEN_V


def is_ground(drops: Drops, position: int) -> bool:
    """True if a position is as good as tied to the ground position that the drops are seen from."""
    return (drop := drops.get(position)) is not None and drop < SHORT_DROP_V


def expected_pins(part: Part) -> set[int]:
    """Pins that must show a junction to ground."""
    return {p.number for p in part.pins if p.role not in (Role.UNUSED, Role.ANALOG, Role.GROUND) and not part.is_resistor(p.number)}


def looks_seated(part: Part, seat: Seat, drops: Drops) -> bool:
    """True if the pattern seen from the ground position is that of this part, seated as it should be."""
    here = {p for p, drop in drops.items() if _has_junction(drop)}
    strange = {p for p, drop in drops.items() if drop is not None and drop > JUNCTION_V}
    want = {seat.position(pin) for pin in expected_pins(part)}
    enough = ALMOST_ALL if strange & want else ENOUGH  # one pin behind a resistance does not make another seating
    fits = len(here & want) >= enough * len(want) and len(strange & want) <= 1
    return fits and not here - set(seat.positions)


def find_seating(
    part: Part, seat: Seat, sizes: tuple[int, ...], rows: Mapping[int, Drops]
) -> tuple[Seat | None, float]:
    """The seating that explains best what every position, raised in turn, conducts to; None if nothing conducts.

    Returns it with the share of its pins that it explains.  A chip of the expected size
    has the part's ground pin; any other is taken to have ground at its last pin of the first row (common practice).
    """
    ground = part.ground.number
    best: tuple[float, Seat] | None = None
    for candidate in seatings(seat.socket, (part.pin_count, *(s for s in sizes if s != part.pin_count))):
        own = candidate.size == part.pin_count
        pin = ground if own else candidate.size // 2
        if candidate.position(pin) not in rows:  # above the socket, or a position that this build has not
            continue
        must = {candidate.position(p) for p in range(1, candidate.size + 1) if p != pin and candidate.position(p) in rows}
        may_lack = {candidate.position(n) for n in range(1, part.pin_count + 1) if n != pin and n not in expected_pins(part)} if own else set()
        here = {p for p, drop in rows[candidate.position(pin)].items() if _has_junction(drop)}
        score = (len(here & must) - len(here - must) - len(must - here - may_lack)) / len(must - may_lack)
        if best is None or score > best[0] + 1e-9:
            best = score, candidate
    if best is None or not any(_has_junction(d) for row in rows.values() for d in row.values()):
        return None, 0.0
    return best[1], best[0]


def ground_is_open(part: Part, seat: Seat, rows: Mapping[int, Drops]) -> bool:
    """True if nothing conducts from ground, but the supply pin, raised, to most of the other pins and to nothing else.

    From the supply a bipolar chip conducts through the base resistors of its inputs and its pull-ups, a CMOS chip,
    which powers itself through whatever is raised, through its channels.
    """
    if any(makes_contact(d) for d in rows[seat.position(part.ground.number)].values()):
        return False
    supplies = [seat.position(p.number) for p in part.of_role(Role.SUPPLY)]
    want = {seat.position(pin) for pin in expected_pins(part)} - set(supplies)
    here = {p for s in supplies for p, d in rows[s].items() if d is not None} - set(supplies)
    like_ground = {p for s in supplies for p, d in rows[s].items() if _has_junction(d)}  # turned round: that is ground
    enough = ENOUGH * len(want)
    return len(here & want) >= enough > len(like_ground & want) and not here - set(seat.positions)


def without_ground(part: Part) -> ContactReport:
    """The report for a chip that is seated but makes no contact at ground."""
    name = pin_name(part, part.ground.number)
    problem = f"No contact at {name}: clean the legs and try again; if it stays, the bond is open and the chip is dead."
    sentence = f"{name} makes no contact: an open bond, or a dirty leg"
    pins = tuple(
        PinContact(p.number, Contact.OPEN, (), sentence)
        if p.role is Role.GROUND
        else PinContact(p.number, Contact.NOT_MEASURED)
        for p in part.pins
    )
    return ContactReport(pins, problem)


def not_seated(part: Part, seat: Seat, found: Seat | None, share: float) -> str:
    """One sentence on a chip that is not where it should be."""
    where = f"pin 1 of a {part.name} belongs in position 1 of the socket"
    if found is None:
        return (
            f"The socket looks empty, or the chip has no contact at ground ({pin_name(part, part.ground.number)}): "
            f"seat it, {where}, and try again."
        )
    if share < EXPLAINED:
        return (
            f"The pins do not conduct like those of a {part.name} in any seating: "
            f"see that it is the right part; {where}."
        )
    if found.size != part.pin_count:
        return (
            f"This looks like a chip with {found.size} pins, seated {found.in_words}, "
            f"not like a {part.name} ({part.pin_count} pins)."
        )
    return f"The chip sits {found.in_words}: {where}."


def judge_contact(
    part: Part,
    seat: Seat,
    drops: Drops,
    pairs: Mapping[int, set[int]],
    ohms: Mapping[tuple[int, int], float] | None = None,
) -> ContactReport:
    """Contacts of a seated chip.

    drops: seen from the ground position; pairs: position -> positions it is tied to.
    ohms: by how much (position, other position), where that was measured.
    """
    ground = part.ground.number
    tied: dict[int, set[int]] = {p.number: set() for p in part.pins}
    for position, others in pairs.items():
        for other in others:
            a, b = seat.pin_at(position), seat.pin_at(other)
            if a and b:
                tied[a].add(b)
                tied[b].add(a)
    for position in drops:
        if is_ground(drops, position) and seat.pin_at(position):
            tied[ground].add(seat.pin_at(position))
            tied[seat.pin_at(position)].add(ground)
    together = {ground, *(p.number for p in part.pins if p.grounded)}
    for pin_number in together:  # tied inside, by its maker
        tied[pin_number] -= together
    by = _by_pins(seat, ohms or {})
    pins = tuple(
        _contact(part, pin.number, drops.get(seat.position(pin.number)), tied[pin.number], by) for pin in part.pins
    )
    problem = ""
    supplies = {p.number for p in part.of_role(Role.SUPPLY)}
    if supplies & tied[ground]:
        problem = "its supply and ground are shorted inside; it was not powered"
    missing = [p for p in pins if p.contact is Contact.OPEN and p.pin in supplies]
    if missing and not problem:
        problem = (
            f"No contact at {listed(pin_name(part, p.pin) for p in missing)}: clean the legs and try again; "
            "if it stays, the bond is open and the chip is dead."
        )
    return ContactReport(pins, problem, True, *_what_may_be_driven(part, tied), _stuck(part, tied))


def _what_may_be_driven(
    part: Part, tied: Mapping[int, set[int]]
) -> tuple[frozenset[int], frozenset[int], frozenset[int]]:
    held: set[int] = set()
    weak: set[int] = set()
    spoilt: set[int] = set()
    for pin in part.pins:
        if not tied[pin.number]:
            continue
        if pin.role.is_output:
            spoilt.add(pin.number)
        if pin.role.is_input:
            only_inputs = all(part.pin(other).role is Role.INPUT for other in tied[pin.number])
            (weak if only_inputs else held).add(pin.number)
    return frozenset(held), frozenset(weak), frozenset(spoilt)


def _stuck(part: Part, tied: Mapping[int, set[int]]) -> dict[int, bool | None]:
    level: dict[Role, bool] = {Role.SUPPLY: True, Role.GROUND: False}
    return {
        pin.number: next((level[part.pin(o).role] for o in tied[pin.number] if part.pin(o).role in level), None)
        for pin in part.inputs
        if tied[pin.number]
    }


def _by_pins(seat: Seat, ohms: Mapping[tuple[int, int], float]) -> dict[frozenset[int], float]:
    """The same by pins; where both ways were measured, the lower figure."""
    out: dict[frozenset[int], float] = {}
    for (a, b), value in ohms.items():
        key = frozenset((seat.pin_at(a), seat.pin_at(b)))
        out[key] = min(value, out.get(key, value))
    return out


def _contact(
    part: Part, pin: int, drop: float | None, tied: set[int], ohms: Mapping[frozenset[int], float]
) -> PinContact:
    name, role = pin_name(part, pin), part.pin(pin).role
    if tied:
        to = tuple(_partner(part, other) for other in sorted(tied))
        known = [ohms[key] for other in tied if (key := frozenset((pin, other))) in ohms]
        least = min(known, default=0.0)
        if least < PLAIN_SHORT_OHM:
            return PinContact(pin, Contact.SHORTED, to, f"{name} is shorted to {listed(to)}", least if known else None)
        about = 10 * round(least / 10) if least < 100 else 50 * round(least / 50)
        return PinContact(pin, Contact.SHORTED, to, f"{name} is tied to {listed(to)} by about {about} ohm", least)
    if role is Role.GROUND:
        return PinContact(pin, Contact.CONNECTED)
    if makes_contact(drop):
        return PinContact(pin, Contact.CONNECTED)
    if role in (Role.UNUSED, Role.ANALOG):
        return PinContact(pin, Contact.NOT_EXPECTED)
    contact = "makes no contact" if drop is None else "makes contact only through many kilohms"
    return PinContact(pin, Contact.OPEN, (), f"{name} {contact}: an open bond, or a dirty leg")


def _partner(part: Part, pin: int) -> str:
    role = part.pin(pin).role
    word = {Role.SUPPLY: f"supply ({part.pin(pin).name})", Role.GROUND: f"ground ({part.pin(pin).name})"}
    return word.get(role, pin_name(part, pin))


def nothing_known(part: Part, problem: str, *, seated: bool = False) -> ContactReport:
    """The report for a chip that is not seated, or not looked at."""
    pins = tuple(PinContact(p.number, Contact.NOT_MEASURED) for p in part.pins)
    return ContactReport(pins, problem, seated)
