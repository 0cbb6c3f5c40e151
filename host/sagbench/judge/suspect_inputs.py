"""Suspicions about inputs: leaks, shifted thresholds, clamps, resistance in the bond, and inputs dead inside.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sagbench.judge.case import Case
from sagbench.judge.failures import Failure, Suspicion
from sagbench.judge.limits import in_amperes, in_volts, listed
from sagbench.parts.model import Role
from sagbench.record import Outcome

MANY = 0.5  # if more of the inputs than this are beyond, it is no leak of one
MORE_A, MORE = 50e-6, 0.25  # it delivers so much more than the others
ALIKE = 0.15  # or so little more that it is no leak of this one
LESS = 0.80  # an input that delivers less than this of what the others do
CLAMPS_V = 0.1  # clamps of one chip differ by less
FAR_V = 0.3  # a threshold so far from the others'

NO_CONTACT = "the output that would show it has no contact"

Cause = tuple[int, bool]  # input pin, and the level at which it seems stuck


def inputs(case: Case, causes: Sequence[Cause]) -> Iterator[Suspicion]:
    """All suspicions about inputs. causes: every single stuck input that would explain all answers."""
    for pin in case.part.inputs:
        if case.bad_contact(pin.number):
            continue
        yield from _leak(case, pin.number, causes)
        if pin.role is Role.INPUT:
            yield from _threshold(case, pin.number, causes)
            yield from _series(case, pin.number, causes)
            yield from _clamp(case, pin.number)
    yield from _stuck(case, causes)


def unmeasured(case: Case, pin: int) -> bool:
    """True if this input's current when low could not be measured though most others' could: it is off every scale."""
    known = case.of_inputs("IIL")
    # Pins that are outputs too are left out together where a level of one of them is in doubt.
    others = case.part.inputs if case.part.pin(pin).role is Role.BIDIRECTIONAL else case.part.of_role(Role.INPUT)
    return pin not in known and len(known) >= max(2.0, MANY * len(others))


def _hungry(case: Case) -> bool:
    return any(f.outcome is Outcome.BEYOND for f in case.record.supply)


def _leak(case: Case, pin: int, causes: Sequence[Cause]) -> Iterator[Suspicion]:
    high, low = (case.has(pin, name, outcome=Outcome.BEYOND) for name in ("IIH", "IIL"))
    held = case.has(pin, "input", outcome=Outcome.BEYOND)
    off_scale = unmeasured(case, pin)
    own, usual = case.of_inputs("IIL").get(pin), case.others("IIL", pin)
    more = own is not None and usual is not None and usual - own > max(MORE_A, MORE * abs(usual))
    if not (high or low or held or off_scale or more):
        return
    name = case.name(pin)
    to = "ground" if high and not (low or more) else "supply" if (low or more or off_scale) and not high else "a rail"
    made = Suspicion(Failure.LEAKY_INPUT, pin, f"{name} leaks to {to}: punched through, or damaged by static")
    made.clue(5.0, high.sentence if high else "", when=high)
    made.clue(5.0 if not high else 1.0, low.sentence if low else "", when=low)
    made.clue(3.0, held.sentence if held else "", when=held)
    made.clue(3.0, f"what {name} delivers when low is off the scale", when=off_scale)
    made.clue(2.0 if case.bipolar else 4.0, f"{name} is never read as low", when=off_scale and (pin, True) in causes)
    made.clue(2.0, "the supply current is higher than it should be", when=off_scale and _hungry(case) and (pin, True) not in causes)
    if more and not low:
        made.clue(3.0, f"{name} delivers {in_amperes(-(own or 0.0))} when low, the others {in_amperes(-(usual or 0.0))}")
    peers = case.others("IIL", pin, like=True)
    alike = low and own is not None and peers is not None and peers - own < ALIKE * abs(peers)
    made.clue(-4.0, "the other inputs deliver as much: rather the family, or a limit that does not hold for this make", when=alike)
    made.clue(-2.0, "another input takes the very same: rather two outputs of another part", when=pin in case.twins)
    made.clue(-6.0, "most other inputs are the same: rather the wrong family, or limits that do not hold for this make",
              when=case.share_beyond("IIH", "IIL") > MANY)
    yield made


def _threshold(case: Case, pin: int, causes: Sequence[Cause]) -> Iterator[Suspicion]:
    found = case.has(pin, "VT+", "VT-", *(("VH",) if case.part.pin(pin).schmitt else ()))
    own = case.of_inputs("VT+").get(pin, case.of_inputs("VT-").get(pin))
    usual = case.others("VT-", pin) if pin in case.of_inputs("VT-") and pin not in case.of_inputs("VT+") else case.others("VT+", pin)
    away = own - usual if own is not None and usual is not None else 0.0
    gone = any(f.quantity == "VT+" and f.outcome is Outcome.NOT_MEASURED for f in case.pin(pin).findings)
    lost = own is None and usual is not None and (gone or any(p == pin for p, _ in causes))
    perhaps = own is None and usual is None and any(p == pin for p, _ in causes)  # none of them could be looked for
    if not found and abs(away) < FAR_V and not lost and not perhaps:
        return
    made = Suspicion(Failure.THRESHOLD, pin, f"the threshold of {case.name(pin)} has shifted")
    made.clue(6.0, found.sentence if found else "", when=found and found.outcome is Outcome.BEYOND)
    made.clue(2.0, found.sentence if found else "", when=found and found.outcome is not Outcome.BEYOND)
    made.clue(2.5, "it was not found within the reach of the level drive, where the others' are", when=lost)
    made.clue(2.0, "a threshold that no level reaches looks like an input that is stuck", when=perhaps)
    made.clue(-4.0, NO_CONTACT, when=(lost or perhaps) and _without_contact(case))
    made.clue(0.5, when=lost and any(p == pin for p, _ in causes))
    if usual is not None and own is not None:
        made.clue(3.0, f"the other inputs switch at {in_volts(usual)}", when=abs(away) >= FAR_V)
        made.clue(-3.0, f"the other inputs switch at {in_volts(usual)} too", when=abs(away) < FAR_V / 2)
    made.clue(0.5, when=own is not None and any(p == pin for p, _ in causes))
    made.clue(1.5, "it delivers less current, and its clamp shows no resistance", when=lost and _less(case, pin) and _clamps_alike(case, pin))
    made.clue(-4.0, "it delivers less current too: rather a resistance before it", when=away < 0 and _less(case, pin))
    yield made


def _without_contact(case: Case) -> bool:
    """True if what answers wrongly is one output, and that has no contact."""
    lost = [p.number for p in case.part.outputs if case.bad_contact(p.number)]
    return len(lost) == 1 and set(case.wrong) <= set(lost)


def _clamps_alike(case: Case, pin: int) -> bool:
    """True if the input's clamp holds what the others' hold: then there is no resistance between pin and clamp."""
    own, usual = case.of_inputs("VIK").get(pin), case.others("VIK", pin)
    return own is not None and usual is not None and abs(own - usual) < CLAMPS_V


def _less(case: Case, pin: int) -> bool:
    """True if a bipolar input delivers notably less when low than the others."""
    own, usual = case.of_inputs("IIL").get(pin), case.others("IIL", pin)
    return own is not None and usual is not None and usual < -50e-6 and own > LESS * usual


def _series(case: Case, pin: int, causes: Sequence[Cause]) -> Iterator[Suspicion]:
    clamp = case.has(pin, "VIK", outcome=Outcome.BEYOND) or case.has(pin, "VIK", state="sisters")
    own, usual = case.of_inputs("IIL").get(pin), case.others("IIL", pin)
    less = _less(case, pin)
    rises, others_rise = case.of_inputs("VT+").get(pin), case.others("VT+", pin)
    sooner = less and rises is not None and others_rise is not None and rises < others_rise - FAR_V / 2
    # In a bipolar part a resistance before the input keeps it from coming low enough.
    high = case.bipolar and (pin, True) in causes
    odd = any(f.state == "sisters" for f in case.found.get(pin, ()))
    if not (clamp or less and (high or odd)):
        return
    name = case.name(pin)
    made = Suspicion(Failure.SERIES, pin, f"there is a resistance between {name} and its input transistor: a bond, or the metal")
    made.clue(4.0, clamp.sentence if clamp else "", when=clamp)
    if own is not None and usual is not None:
        made.clue(3.0, f"{name} delivers {in_amperes(-own)} when low, the others {in_amperes(-usual)}", when=less)
        made.clue(-1.5, f"{name} delivers as much current when low as the others", when=not less and usual < -50e-6)
    made.clue(2.5, f"{name} is never read as low", when=high)
    made.clue(-3.0, "its clamp shows no resistance", when=_clamps_alike(case, pin))
    made.clue(3.0, "its threshold is lower by what the resistance drops", when=sooner)
    yield made


def _clamp(case: Case, pin: int) -> Iterator[Suspicion]:
    found = case.has(pin, "VIK", outcome=Outcome.BEYOND) or case.has(pin, "VIK", state="sisters")
    early = any(note.startswith(f"{case.name(pin)} has no clamp diode") for note in case.record.notes)
    if not (found or early):
        return
    made = Suspicion(Failure.CLAMP, pin, f"the clamp diode of {case.name(pin)} is damaged")
    made.clue(4.5, found.sentence if found else "", when=found)
    made.clue(3.0, f"{case.name(pin)} shows no junction to ground, and delivers its current all the same", when=early)
    yield made


def _stuck(case: Case, causes: Sequence[Cause]) -> Iterator[Suspicion]:
    """Inputs that, stuck inside, explain all answers: alike, so they share one suspicion a level."""
    causes = [cause for cause in causes if not case.bad_contact(cause[0])]
    if not causes:
        return
    names = [f"{case.name(pin)} stuck {'high' if high else 'low'}" for pin, high in causes]
    told = listed(names) if len(names) == 1 else " or ".join(names)
    wrong = case.wrong
    dead = len(wrong) == 1 and case.has(wrong[0], "logic", outcome=Outcome.BEYOND, state="")
    still = len(wrong) == 1 and any("is stuck" in f.sentence for some in case.found.values() for f in some if f.quantity == "logic")
    made = Suspicion(Failure.STUCK_INPUT, causes[0][0], f"dead inside, or cut off: {told}")
    made.clue(5.5 if not still else 4.0, f"all answers, right and wrong, are those of {told}")
    made.clue(1.0, f"one failure explains {len(wrong)} wrong outputs", when=len(wrong) > 1)
    follows = dead and "drives nothing" in dead.sentence
    made.clue(-2.5, "the output follows any load, which no stuck input explains", when=follows)
    collector = len(wrong) == 1 and case.part.pin(wrong[0]).role is Role.OPEN_COLLECTOR or not wrong
    made.clue(-1.2, "an open collector that is dead would look the same", when=collector and not follows)
    made.clue(-0.5, "several inputs would explain it alike", when=len(names) > 1)
    made.clue(-4.0, NO_CONTACT, when=_without_contact(case))
    for pin, _ in causes[:1]:
        outside = case.has(pin, "IIH", "IIL", "VT+", "VT-", outcome=Outcome.BEYOND)
        made.clue(-2.0, f"{case.name(pin)} is sick outside: see there", when=outside)
    unlike = [pin for pin, _ in causes if any(f.state == "sisters" for f in case.found.get(pin, ()))]
    made.clue(-2.0, f"what {case.name(unlike[0])} delivers is unlike the others: see there" if unlike else "", when=unlike)
    off = [pin for pin, _ in causes if unmeasured(case, pin)]
    made.clue(-3.0, f"what {case.name(off[0])} delivers when low is off the scale" if off else "", when=off)
    made.clue(-0.7, "that would not raise the supply current", when=_hungry(case))
    yield made
