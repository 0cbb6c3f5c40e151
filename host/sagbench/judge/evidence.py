"""Everything that a sweep has gathered, and the record that follows from it.

A sweep that ends early leaves the rest at its default; the record then says what was not measured.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sagbench.judge import bare, causes, dc, diagnosis, fingerprint, identity, inputs, logic, outputs, pulses, sisters, supply, verdict
from sagbench.judge.contact import ContactReport
from sagbench.judge.limits import least_supply, pin_name
from sagbench.judge.logic import Answer
from sagbench.judge.rule import DEFAULT
from sagbench.measure.line import Line
from sagbench.measure.model import Model
from sagbench.measure.pulses import Timed
from sagbench.measure.uncertain import Uncertain, value
from sagbench.parts.lookup import network_of
from sagbench.parts.model import Expect, Part, Role, SupplyState
from sagbench.plan.resting import Rest
from sagbench.plan.seat import Seat
from sagbench.record import (
    Contact,
    Finding,
    FixtureRecord,
    LogicRecord,
    Measured,
    Outcome,
    PinRecord,
    Quantity,
    SweepRecord,
    Timing,
    Verdict,
)


@dataclass
class Evidence:
    """What was measured. Volts against the chip's ground pin, amperes positive into the pin."""

    part: Part
    seat: Seat
    marking: str
    started: str
    version: str
    fixture: FixtureRecord
    contact: ContactReport
    resting: list[Rest] = field(default_factory=list)  # CMOS: further states in which it is at rest
    supply_volts: Uncertain | None = None
    icc: dict[str, Quantity] = field(default_factory=dict)  # by state
    plays: list[tuple[str, tuple[Answer, ...]]] = field(default_factory=list)  # (load, answers), unloaded first
    high_in: dict[int, Quantity] = field(default_factory=dict)  # IIH by pin
    low_in: dict[int, Quantity] = field(default_factory=dict)  # IIL by pin, negative
    off: dict[tuple[int, bool], Quantity] = field(
        default_factory=dict
    )  # leakage of off outputs, by pin and pulled high?
    off_unheld: dict[int, set[int]] = field(default_factory=dict)  # off output -> low inputs no line surely held low
    lines: list[Line] = field(default_factory=list)
    measured: list[Measured] = field(default_factory=list)  # the DC parameter set, all pins; see measure/METHODS.md
    pulses: dict[int, Timed] = field(default_factory=dict)  # a monostable's, by place among the part's
    strayed: set[tuple[int, bool]] = field(default_factory=set)  # (pin, low side?) of lines taken in another state
    extra: list[Finding] = field(default_factory=list)  # over-current, contention ...
    notes: list[str] = field(default_factory=list)
    untold: set[int] = field(default_factory=set)  # inputs whose threshold no output tells
    gaps: list[str] = field(default_factory=list)  # what the fixture could not test of this part
    problem: str = ""  # why it could not be powered
    partial: str = ""  # why it ended early
    timing: Timing | None = None

    @property
    def states(self) -> tuple[SupplyState, ...]:
        """All static states in which the supply current is taken."""
        return (*self.part.supply_states, *(rest.state for rest in self.resting))


def _rights(e: Evidence) -> Mapping[tuple[int, int], bool | None]:
    return {(a.step, a.pin): logic.is_right(e.part, a) for a in e.plays[0][1]} if e.plays else {}


def _pin_findings(e: Evidence, *, causes: bool = True) -> dict[int, list[Finding]]:
    """Findings of each pin; what was not gone into is NOT_MEASURED. causes: name likely ones in the sentences."""
    found: dict[int, list[Finding]] = {pin.number: [] for pin in e.part.pins}
    rights = _rights(e)
    bipolar = _bipolar(e.part)
    lines = {(line.pin, line.up): line for line in e.lines}
    for pin in e.part.outputs:
        mine = found[pin.number]
        weakly = next((answers for load, answers in e.plays if load == "weak"), ())
        mine.append(logic.judge_pin(e.part, pin.number, e.plays[0][1] if e.plays else (), weakly))
        for load, answers in e.plays[1:] if mine[0].outcome is Outcome.WITHIN else ():
            lost = logic.give_way(e.part, pin.number, load, answers, rights)
            if lost:
                mine.append(lost)
        limits = e.part.limits[pin.number]
        for rated in (*limits.vol, *(() if pin.role is Role.OPEN_COLLECTOR else limits.voh)):
            low_side = rated.quantity == "VOL"
            if (pin.number, low_side) in e.strayed:
                mine.append(outputs.not_held(e.part, pin.number, rated))
                continue
            line = lines.get((pin.number, low_side), Line(pin.number, low_side, ()))
            comes = not e.contact.stuck or not e.plays or any(
                a.pin == pin.number and a.expect is (Expect.LOW if low_side else Expect.HIGH) for a in e.plays[0][1])
            mine.append(outputs.judge_rated(e.part, line, rated, e.supply_volts, bipolar, causes=causes, comes=comes))
        for pulled_high in (True, False):
            if off := outputs.judge_off(e.part, pin.number, e.off.get((pin.number, pulled_high)), pulled_high):
                mine.append(off)
        if unheld := e.off_unheld.get(pin.number):
            if not any((pin.number, pulled_high) in e.off for pulled_high in (True, False)):
                mine.append(outputs.off_unknown(e.part, pin.number, unheld))
        low = lines.get((pin.number, True))
        headroom = outputs.judge_headroom(e.part, low, limits) if low else None
        if headroom:
            mine.append(headroom)
    for pin_number, finding in sisters.judge_sisters(e.part, [x for x in e.lines if _answers(found[x.pin])]).items():
        found[pin_number].append(finding)
    for number in (p.number for p in e.part.of_role(Role.INPUT)):
        if number in e.part.limits:
            found[number] += inputs.judge_input(e.part, number, e.high_in.get(number), e.low_in.get(number))
    for number, further in dc.judge(e.part, e.measured, None if e.supply_volts is None else value(e.supply_volts)).items():
        found[number] += further
    by_name: dict[int, dict[str, Quantity]] = {}
    for m in e.measured:
        by_name.setdefault(m.pin, {})[m.name] = m.value
    for number, unlike in inputs.judge_sisters(e.part, by_name).items():
        found[number] += unlike
    for number, lost in inputs.out_of_reach(e.part, by_name, e.untold).items():
        found[number].append(lost)
    if len(e.low_in) >= inputs.SISTERS:
        for pin in e.part.of_role(Role.INPUT):
            if pin.number in e.high_in and pin.number not in e.low_in and pin.number in e.part.limits and (
                pin.number not in e.contact.stuck
            ):
                found[pin.number].append(inputs.off_scale(e.part, pin.number))
    for finding in supply.judge_leaks(e.part, [(rest, i) for rest in e.resting if (i := e.icc.get(rest.state.name))]):
        if finding.pin:
            found[finding.pin].append(finding)
    for index, test in enumerate(e.part.pulses):
        found[test.output] += pulses.judge_pulse(e.part, test, e.pulses.get(index))
    for finding in e.extra:
        if finding.pin:
            found[finding.pin].append(finding)
    _without_consequences(e, found)
    return found


def _leave_out_strayed(e: Evidence) -> None:
    """Lines taken in another state than theirs, and what was worked out from them, are no figures of this output."""
    e.strayed |= {(line.pin, line.up) for line in e.lines if _contradicted(e, line)}
    e.lines = [line for line in e.lines if (line.pin, line.up) not in e.strayed]
    from_lines = {True: ("VOL", "ROL", "IOL at VIL"), False: ("VOH", "ROH", "IOH at VIH", "IOS")}
    e.measured = [m for m in e.measured if not any(m.pin == p and m.name in from_lines[low] for p, low in e.strayed)]


def _contradicted(e: Evidence, line: Line) -> bool:
    """True if under some load the line shows the opposite level of what the logic test saw under the same load.

    Then the chip was not in the state that the line is of: an input that the fixture cannot hold has strayed.
    """
    limits = e.part.limits[line.pin]
    want = Expect.LOW if line.up else Expect.HIGH
    plays = dict(e.plays)
    for p in line.points:
        seen = [logic.is_right(e.part, a) for a in plays.get(p.name, ()) if a.pin == line.pin and a.expect is want]
        opposite = value(p.volts) >= limits.vih.value if line.up else value(p.volts) <= limits.vil.value
        if seen and all(seen) and opposite:
            return True
    return False


def _answers(findings: Sequence[Finding]) -> bool:
    """True if nothing is wrong with the pin's logic: only such outputs are compared with each other."""
    return not any(f.quantity == "logic" and f.outcome is Outcome.BEYOND and not f.state for f in findings)


def _without_consequences(e: Evidence, found: dict[int, list[Finding]]) -> None:
    """What a pin without contact, or with a short, does otherwise follows from that: told, but without weight."""
    for c in e.contact.pins:
        if c.contact in (Contact.OPEN, Contact.SHORTED):
            found[c.pin] = [replace(f, weight=0.0) for f in found[c.pin]]


def _pin_record(e: Evidence, number: int, findings: Sequence[Finding]) -> PinRecord:
    pin = e.part.pin(number)
    low = next((x for x in e.lines if x.pin == number and x.up), None)
    high = next((x for x in e.lines if x.pin == number and not x.up), None)
    limits = e.part.limits.get(number)
    unloaded = [None if x is None or x.unloaded is None else Model.quantity(x.unloaded, "V") for x in (low, high)]
    ohms = [None if x is None or limits is None else outputs.output_ohm(x, limits) for x in (low, high)]
    loads = tuple(r for x in (low, high) if x is not None for r in outputs.load_readings(x))
    return PinRecord(
        number,
        pin.name,
        pin.role.value,
        e.seat.position(number),
        unloaded[0],
        unloaded[1],
        loads,
        ohms[0],
        ohms[1],
        tuple(findings),
        measured=tuple(m for m in e.measured if m.pin == number),
    )


def _missing(findings: Sequence[Finding], e: Evidence) -> tuple[str, ...]:
    out = [f.sentence for f in findings if f.outcome is Outcome.NOT_MEASURED and f.value is None]
    out += [f"{pin_name(e.part, p.number)} ({p.role.value}): left alone" for p in e.part.of_role(Role.ANALOG)]
    out += e.gaps
    fine = inputs.too_fine(e.part, e.high_in)
    return tuple(dict.fromkeys((*out, *([fine] if fine else []), *verdict.NEVER)))


def _undecided(findings: Sequence[Finding], e: Evidence) -> tuple[str, ...]:
    free = dc.without_limit(e.part, e.measured)
    return tuple(dict.fromkeys((*verdict.undecided(findings), *([free] if free else []))))


def _bipolar(part: Part) -> bool:
    return any(limits.technology == "ttl" for limits in part.limits.values())


def _notes(e: Evidence) -> tuple[str, ...]:
    notes = [*e.part.notes, *e.notes]
    if e.supply_volts is not None:
        volts = Model.quantity(e.supply_volts, "V").value
        loaded = [value(line.supply) for line in e.lines if line.supply is not None]
        lowest, least = min([volts, *loaded]), least_supply(e.part)
        if lowest < least and _bipolar(e.part):
            notes.append(
                f"The supply at the chip's own pins was only {lowest:.3f} V at times; VOH is specified for {least} V: where it was less, "
                "the limit of VOH is lowered by what was missing."
            )
        notes.append(
            f"Measured at {volts:.2f} V and room temperature; a data book's limits hold over its whole span of both."
        )
    return tuple(notes)


def _second_opinion(e: Evidence) -> None:
    """An input that shows no clamp diode but delivers IIL is connected after all."""
    pins = []
    for c in e.contact.pins:
        if c.contact is Contact.OPEN and c.pin in e.part.limits and inputs.is_alive(e.part, c.pin, e.low_in.get(c.pin)):
            c = replace(c, contact=Contact.CONNECTED, sentence="")
            e.notes.append(f"{pin_name(e.part, c.pin)} has no clamp diode: an early make; it is connected.")
        pins.append(c)
    e.contact = replace(e.contact, pins=tuple(pins))


def assemble(e: Evidence) -> SweepRecord:
    """The record of the sweep, judged; if its silicon is of another family than the marking, that comes first of all."""
    _second_opinion(e)
    _leave_out_strayed(e)
    stuck = _stuck_inputs(e)
    draft = _judged(e, [], stuck)
    families = fingerprint.guess(e.part, draft)
    if other := fingerprint.mismatch(e.part, draft, families):
        draft = _judged(e, [other], stuck)
    elif odd := fingerprint.unlike(e.part, draft):
        draft = _judged(e, odd, stuck)
    draft = replace(draft, families=families)
    draft = replace(draft, diagnoses=diagnosis.diagnose(e.part, draft, stuck, _alike(e, stuck)))
    return bare.without_causes(draft) if bare.is_another_part(draft) else draft


def _alike(e: Evidence, stuck: Sequence[tuple[int, bool]]) -> list[identity.Likeness]:
    """Other functions that would answer so, if most outputs answer wrongly and no stuck input explains it."""
    given = e.plays[0][1] if e.plays else ()
    wrong = {a.pin for a in given if logic.is_right(e.part, a) is False}
    if stuck or len(wrong) < 2 or 2 * len(wrong) < len({a.pin for a in given}):
        return []
    return identity.alike(e.part, given)


def _stuck_inputs(e: Evidence) -> list[tuple[int, bool]]:
    """Inputs that, stuck inside, would explain all answers; a finding if they are few and no contact explains it better."""
    if not e.plays:
        return []
    contacts = any(c.contact in (Contact.OPEN, Contact.SHORTED) for c in e.contact.pins)
    # An open collector that never sinks shows nothing until the weak load pulls it up.
    looked = [answers for load, answers in e.plays if load in ("open", "weak")]
    wrong = [answers for answers in looked if any(logic.is_right(e.part, a) is False for a in answers)]
    if not wrong:
        return []
    given = tuple(_floating(e, a) for a in wrong[0])
    network = network_of(e.part)
    if not contacts and not any(f.state == "cause" for f in e.extra) and (cause := causes.explain(e.part, network, given)):
        e.extra.append(cause)
    return causes.causes(e.part, network, given)


def _floating(e: Evidence, answer: Answer) -> Answer:
    """The answer at no level, if the output can be off and follows any load: it is off, whatever it floats at."""
    weakly = next((answers for load, answers in e.plays if load == "weak"), ())
    can_be_off = e.part.pin(answer.pin).role in (Role.TRI_STATE, Role.BIDIRECTIONAL)
    if answer.expect is Expect.OFF or not can_be_off or not logic.follows_any_load(e.part, answer.pin, weakly):
        return answer
    limits = e.part.limits[answer.pin]
    return replace(answer, volts=(limits.vil.value + limits.vih.value) / 2)


def _judged(e: Evidence, of_silicon: Sequence[Finding], stuck: Sequence[tuple[int, bool]]) -> SweepRecord:
    """The record but for what silicon it is.

    of_silicon: the finding that it is not what is marked, or unlike it; stuck: inputs that, stuck, would explain all answers.
    """
    by_pin = _pin_findings(e, causes=not any(f.state == "wrong family" for f in of_silicon))
    icc = tuple(supply.judge_supply(e.part, s, e.icc.get(s.name)) for s in e.part.supply_states)
    icc += tuple(supply.judge_resting(e.part, [(rest.state, e.icc.get(rest.state.name)) for rest in e.resting], icc))
    if e.contact.shorted:  # their share in the supply current is no news
        icc = tuple(replace(f, weight=f.weight / 2) for f in icc)
    chip = [f for f in e.extra if not f.pin] + [*of_silicon]
    contacts = verdict.contact_findings(e.part, e.contact.pins)
    explained = any(f.state == "cause" for f in e.extra) or not {f.pin for f in contacts}.isdisjoint(pin for pin, _ in stuck)
    if not explained and (none_right := logic.wrong_part(e.part, [f for fs in by_pin.values() for f in fs])):
        chip.append(none_right)
    told = [*contacts, *chip, *icc, *(f for fs in by_pin.values() for f in fs)]
    plays: tuple[LogicRecord, ...] = tuple(
        logic.record(e.part, load, len(e.part.sequence), answers) for load, answers in e.plays
    )
    supply_volts = None if e.supply_volts is None else Model.quantity(e.supply_volts, "V")
    draft = SweepRecord(
        part=e.part.name,
        title=e.part.title,
        marking=e.marking,
        pin_count=e.part.pin_count,
        started=e.started,
        sagbench=e.version,
        fixture=e.fixture,
        supply_volts=supply_volts,
        contacts=e.contact.pins,
        supply=icc,
        logic=plays,
        pins=tuple(_pin_record(e, pin.number, by_pin[pin.number]) for pin in e.part.pins),
        verdict=Verdict.INCOMPLETE,
        reasons=(),
        advice="",
        not_measured=_missing(verdict.weigh_gaps(told), e),
        undecided=_undecided(told, e),
        notes=_notes(e),
        timing=e.timing,
        partial=e.partial,
        rule=DEFAULT.record(),
        measured=tuple(m for m in e.measured if not m.pin),
    )
    return verdict.conclude(draft, [*contacts, *chip], e.problem)
