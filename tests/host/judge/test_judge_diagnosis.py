"""From the pattern of figures to the likely failure.

Load lines are those of transistor-level models in ngspice under the fixture's loads (7400, gain 40, 6, and with 25
ohm in the output's way; see paper.SPICE and test_judge_outputs.py); what each failure looks like otherwise is common
practice.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from host.judge import paper
from sagbench.judge.case import Case
from sagbench.judge.diagnosis import diagnose
from sagbench.judge.failures import Failure
from sagbench.parts import load_part
from sagbench.record import Contact, Finding, LogicMiss, LogicRecord, Measured, Outcome, PinContact, Quantity, Verdict

TTL, HC = load_part("7400"), load_part("74HC00")
SOUND = paper.chip(TTL, **paper.SPICE["7400"])
WEAK = (("weak", 0.56, 0.048), ("medium", 8.3, 0.160), ("strong", 14.2, 0.779), ("both", 15.0, 2.134))  # gain 6
PLUS_25 = (("weak", 0.56, 0.062), ("medium", 8.0, 0.335), ("strong", 14.9, 0.579), ("both", 23.0, 0.801))
LOW, HIGH = (paper.SPICE["7400"][way] for way in ("low", "high"))


def against(pin, quantity, sentence, outcome=Outcome.BEYOND, **more):
    return Finding(quantity, outcome, sentence, pin, weight=70, **more)


def sick(record, *findings, contacts=(), **pins):
    """The record with these findings as reasons, these contacts, and pins changed: p8=dict(loads=...)."""
    made = list(record.pins)
    for f in findings:
        if f.pin:
            made[f.pin - 1] = replace(made[f.pin - 1], findings=(*(x for x in made[f.pin - 1].findings if x.quantity != f.quantity), f))
    for name, changes in pins.items():
        made[int(name[1:]) - 1] = replace(made[int(name[1:]) - 1], **changes)
    all_contacts = tuple(next((c for c in contacts if c.pin == x.pin), x) for x in record.contacts)
    contact = tuple(Finding("contact", Outcome.BEYOND, c.sentence, c.pin, weight=100) for c in contacts)
    return replace(record, pins=tuple(made), reasons=(*contact, *findings), contacts=all_contacts, verdict=Verdict.FAILED)


def first(record, causes=(), part=TTL):
    return diagnose(part, record, causes)[0]


def test_a_sound_chip_has_no_diagnosis():
    assert diagnose(TTL, SOUND) == ()


def test_a_cliff_is_lost_gain_and_what_is_in_proportion_is_a_resistance():
    lost = against(8, "VOL", "pin 8 (3Y) sinks 14.2 mA only at 0.78 V")
    gain = diagnose(TTL, sick(SOUND, lost, p8=dict(loads=(*paper.sinking(*WEAK), *paper.sourcing(*HIGH)))))
    assert gain[0].kind == Failure.LOST_GAIN and gain[0].pin == 8 and gain[0].probability > 0.9
    assert any("its volts run away" in line for line in gain[0].speaks_for)
    high = (("weak", 0.43, 3.51), ("medium", 5.4, 3.03))  # 25 ohm below the sound line
    series = diagnose(TTL, sick(SOUND, lost, p8=dict(loads=(*paper.sinking(*PLUS_25), *paper.sourcing(*high)))))
    assert series[0].kind == Failure.SERIES and series[0].pin == 8
    assert "there are about 23 ohm in the way" in series[0].sentence, "25 were put in; the model's own line bends"
    assert any("the high side has about" in line for line in series[0].speaks_for)


def test_the_same_resistance_at_all_outputs_is_in_the_ground_bond():
    lines = {f"p{n}": dict(loads=(*paper.sinking(("weak", 0.56, 0.25), ("medium", 7.9, 0.48), ("strong", 15.0, 0.70)),
                                  *paper.sourcing(*HIGH))) for n in (3, 6, 8, 11)}
    found = [against(n, "VOL", f"pin {n} sinks 16 mA only at 0.7 V") for n in (3, 6, 8, 11)]
    assert first(sick(SOUND, *found, **lines)).pin == 7
    assert first(sick(SOUND, *found, **lines)).kind == Failure.SERIES


def test_a_pull_up_that_is_weak_is_told_from_a_resistance_by_the_low_side():
    high = (("weak", 0.35, 2.3), ("medium", 1.3, 0.75))
    found = against(6, "VOH", "pin 6 (2Y) sources 0.35 mA only at 2.3 V")
    made = diagnose(TTL, sick(SOUND, found, p6=dict(loads=(*paper.sinking(*paper.SPICE["7400"]["low"]), *paper.sourcing(*high)))))
    assert made[0].kind == Failure.WEAK_PULL_UP and made[0].pin == 6
    assert "its low side is as it should be" in made[0].speaks_for


@pytest.mark.parametrize("pin, kind", [(1, Failure.OPEN_INPUT), (3, Failure.OPEN_OUTPUT), (14, Failure.OPEN_SUPPLY)])
def test_a_pin_without_junction_is_an_open_bond(pin, kind):
    open_ = PinContact(pin, Contact.OPEN, (), f"pin {pin} makes no contact")
    assert first(sick(SOUND, contacts=(open_,))).kind == kind


def test_a_short_with_ohms_is_rather_a_leak_and_a_plain_one_a_short():
    for ohm, kinds in ((2.0, [Failure.SHORT, Failure.LEAKY_INPUT]), (300.0, [Failure.LEAKY_INPUT, Failure.SHORT])):
        tied = PinContact(1, Contact.SHORTED, ("ground (GND)",), "pin 1 (1A) is tied to ground (GND)", ohm)
        assert [d.kind for d in diagnose(TTL, sick(SOUND, contacts=(tied,)))[:2]] == kinds


def test_one_leaking_input_is_a_leak_and_all_of_them_are_not():
    leak = [against(n, "IIH", f"pin {n} takes 0.3 mA when high") for n in (1, 2, 4, 5, 9, 10, 12, 13)]
    assert first(sick(SOUND, leak[0])).kind == Failure.LEAKY_INPUT
    assert Failure.LEAKY_INPUT not in [d.kind for d in diagnose(TTL, sick(SOUND, *leak))]


def test_an_output_that_is_wrong_without_load_only_leaks():
    low = (("weak", 0.56, 0.10), ("medium", 8.3, 0.175), ("strong", 16.1, 0.235))
    pins = {f"p{n}": dict(low=paper.volts(0.038)) for n in (3, 8, 11)}
    odd = against(6, "VOL", "pin 6 (2Y) is unlike its sister outputs", Outcome.ODD, state="sisters")
    record = sick(SOUND, odd, p6=dict(low=paper.volts(0.095), loads=(*paper.sinking(*low), *paper.sourcing(*HIGH))), **pins)
    made = first(record)
    assert made.kind == Failure.LEAKY_OUTPUT and "leaks to supply" in made.sentence


def test_a_stuck_output_a_dead_one_and_a_stuck_input():
    stuck = against(3, "logic", "pin 3 (1Y) is stuck high: it never goes low")
    made = diagnose(TTL, sick(SOUND, stuck), causes=[(1, False), (2, False)])
    assert [d.kind for d in made[:2]] == [Failure.STUCK_OUTPUT, Failure.STUCK_INPUT]
    assert "pin 1 (1A) stuck low or pin 2 (1B) stuck low" in made[1].sentence
    dead = against(3, "logic", "pin 3 (1Y) drives nothing, it follows any load")
    assert [d.kind for d in diagnose(TTL, sick(SOUND, dead))[:2]] == [Failure.DEAD_OUTPUT, Failure.OPEN_OUTPUT]
    wrong = against(3, "logic", "pin 3 (1Y) answers wrongly in 2 of 8 checks")
    assert first(sick(SOUND, wrong), causes=[(1, True)]).kind == Failure.STUCK_INPUT


def test_a_dead_output_comes_before_a_stuck_input_that_would_explain_its_answers():
    dead = against(3, "logic", "pin 3 (1Y) drives nothing, it follows any load")
    gives_way = against(6, "logic", "pin 6 (2Y) gives way", state="strong")
    made = diagnose(TTL, sick(SOUND, dead, gives_way), causes=[(1, False)])
    assert made[0].kind == Failure.DEAD_OUTPUT
    assert any("no stuck input explains" in line for d in made for line in d.speaks_against)


def test_an_input_off_every_scale_that_is_never_read_low_leaks_to_the_supply():
    wrong = against(3, "logic", "pin 3 (1Y) answers wrongly in 2 of 8 checks")
    made = diagnose(TTL, sick(SOUND, wrong, p1=dict(measured=())), causes=[(1, True)])
    assert made[0].kind == Failure.LEAKY_INPUT and made[0].pin == 1


def test_a_threshold_out_of_reach_comes_after_an_input_stuck_inside_which_looks_the_same():
    wrong = against(3, "logic", "pin 3 (1Y) answers wrongly in 2 of 8 checks")
    made = diagnose(TTL, sick(SOUND, wrong, p1=dict(measured=SOUND.pins[0].measured[:1])), causes=[(1, True)])
    assert [d.kind for d in made[:2]] == [Failure.STUCK_INPUT, Failure.THRESHOLD]


def test_a_shifted_threshold_and_a_resistance_before_an_input():
    far = against(4, "VT+", "pin 4 (2A) switches at 2.40 V rising; it must be at most 2.00 V")
    figures = (SOUND.pins[3].measured[0], Measured("VT+", 4, paper.volts(2.4, 0.02)))
    assert first(sick(SOUND, far, p4=dict(measured=figures))).kind == Failure.THRESHOLD
    clamp = against(4, "VIK", "pin 4 (2A)'s clamp diode holds -9.8 V")
    little = (Measured("IIL", 4, Quantity(-0.6e-3, 5e-6, "A")),)
    made = diagnose(TTL, sick(SOUND, clamp, p4=dict(measured=little)))
    assert made[0].kind == Failure.SERIES and made[0].pin == 4
    assert diagnose(TTL, sick(SOUND, clamp))[0].kind == Failure.CLAMP
    low = against(4, "VT+", "pin 4 (2A) switches at 0.50 V rising; it must be at least 0.80 V")
    both = (*little, Measured("VT+", 4, paper.volts(0.5, 0.02)))
    unlike = against(4, "IIL", "pin 4 (2A) is unlike its sister inputs", Outcome.ODD, state="sisters")
    assert diagnose(TTL, sick(SOUND, low, unlike, p4=dict(measured=both)))[0].kind == Failure.SERIES


def test_too_much_supply_current_with_nothing_else_wrong():
    high = [replace(f, outcome=Outcome.BEYOND, weight=80.0, value=paper.amperes(f.value.value + 0.03)) for f in SOUND.supply]
    record = replace(SOUND, supply=tuple(high), reasons=tuple(high), verdict=Verdict.FAILED)
    made = first(record)
    assert made.kind == Failure.EXCESS_SUPPLY and "it is about the same in every state" in made.speaks_for


def test_silicon_of_another_family_comes_before_all_weak_outputs():
    wrong = Finding("family", Outcome.BEYOND, "its silicon is that of 74LS", state="wrong family", weight=99.8)
    weak = against(8, "VOL", "pin 8 (3Y) sinks 14.2 mA only at 0.78 V")
    record = sick(SOUND, weak, p8=dict(loads=(*paper.sinking(*WEAK), *paper.sourcing(*HIGH))))
    assert first(replace(record, reasons=(wrong, *record.reasons))).kind == Failure.WRONG_FAMILY


def test_all_outputs_wrong_is_another_function_unless_they_hang_in_the_air_alike():
    none = Finding("logic", Outcome.BEYOND, "none of its 4 outputs answers as those of a 7400 must", weight=99.5)
    wrong = [against(n, "logic", f"pin {n} answers wrongly in 6 of 8 checks") for n in (3, 6, 8, 11)]
    assert first(sick(SOUND, none, *wrong)).kind == Failure.WRONG_PART
    misses = tuple(LogicMiss(0, n, "L", 1.5, "open", {}) for n in (3, 6, 8, 11))
    bare = replace(SOUND, pins=tuple(replace(p, loads=()) for p in SOUND.pins), logic=(LogicRecord("open", 8, 30, misses),))
    unclear = [against(n, "logic", f"pin {n} gives no proper level: 1.5 V, neither low nor high") for n in (3, 6, 8, 11)]
    assert first(sick(bare, none, *unclear)).kind == Failure.SERIES


def test_open_collectors_that_drive_high_are_of_another_part():
    part = load_part("7403")
    none = Finding("logic", Outcome.BEYOND, "none of its 4 outputs answers as those of a 7403 must", weight=99.5)
    drive = [against(n, "logic", f"pin {n} does not let go: it should be off, and drives high") for n in (6, 8)]
    assert first(sick(paper.chip(part, **paper.SPICE["7400"]), none, *drive), part=part).kind == Failure.WRONG_PART


def test_the_same_failure_at_most_outputs_counts_less_for_each():
    dead = [against(n, "logic", f"pin {n} drives nothing, it follows any load") for n in (3, 6, 8)]
    one, most = first(sick(SOUND, dead[0])), next(d for d in diagnose(TTL, sick(SOUND, *dead)) if d.kind == Failure.DEAD_OUTPUT)
    assert any("most other outputs are the same" in line for line in most.speaks_against)
    assert not one.speaks_against or "most other outputs" not in one.speaks_against[0]


def test_probabilities_leave_room_for_something_else():
    made = diagnose(TTL, sick(SOUND, against(1, "IIH", "pin 1 (1A) takes 0.3 mA when high")))
    assert 0.5 < sum(d.probability for d in made) < 1.0


def test_a_seat_is_told_even_without_reasons():
    assert diagnose(TTL, replace(SOUND, partial="not seated", verdict=Verdict.INCOMPLETE))[0].kind == Failure.SEATING


def test_an_output_is_held_against_its_sisters_and_two_outputs_against_the_data_book():
    case = Case(TTL, sick(SOUND, p8=dict(loads=(*paper.sinking(*PLUS_25), *paper.sourcing(*HIGH)))))
    shape = case.shape(8, True)
    assert shape.ohm == pytest.approx(25, abs=2.5) and shape.misfit < 0.2
    pair = load_part("7420")
    alone = Case(pair, paper.chip(pair, **paper.SPICE["7400"]))
    assert alone.shape(6, True).most < 0.08, "a sound output is near what is typical"
    assert Case(HC, paper.chip(HC, **paper.SPICE["74HC00"])).typical(True)(8e-3) == pytest.approx(0.3, abs=0.06)


def test_where_nothing_is_surely_wrong_no_failure_is_all_but_sure():
    record = sick(SOUND, against(1, "IIH", "pin 1 (1A) takes 0.3 mA when high"))
    surely, perhaps = (sum(d.probability for d in diagnose(TTL, replace(record, verdict=v))) for v in (Verdict.FAILED, Verdict.UNSURE))
    assert perhaps < 0.8 < 0.95 < surely


def test_less_current_through_a_clamp_like_the_others_is_no_resistance_in_the_bond():
    """A bond wire is before the clamp: what it drops shows there (ngspice and common practice)."""
    low = against(6, "logic", "pin 6 (2Y) answers wrongly in 2 of 8 checks")
    unlike = against(4, "IIL", "pin 4 (2A) is unlike its sister inputs: it delivers 0.1 mA, the others 1 mA", Outcome.ODD, state="sisters")

    def told(own):
        pins = {f"p{n}": dict(measured=(Measured("VIK", n, Quantity(own if n == 4 else -0.85, 0.1, "V")),
                                        Measured("IIL", n, Quantity(-1e-4 if n == 4 else -1e-3, 1e-5, "A")),
                                        *((Measured("VT+", n, Quantity(1.4, 0.01, "V")),) if n != 4 else ())))
                for n in (1, 2, 4, 5, 9, 10, 12, 13)}
        return [d.kind for d in diagnose(TTL, sick(SOUND, low, unlike, **pins), [(4, True)])][:2]

    assert told(-2.5)[0] == Failure.SERIES
    assert Failure.THRESHOLD in told(-0.86) and Failure.SERIES not in told(-0.86)


def test_an_input_with_a_short_explains_an_open_collector_that_never_sinks():
    part = load_part("74LS05")
    record = paper.chip(part, **paper.SPICE["74LS00"])
    tied = replace(record.contacts[10], contact=Contact.SHORTED, ohm=96.0, shorted_to=("ground (GND)",), sentence="pin 11 (5A) is tied to ground (GND) by about 96 ohm")
    never = against(10, "VOL", "pin 10 (5Y) sinks 0.06 mA only at 4.65 V")
    made = diagnose(part, sick(record, never, contacts=[tied], p10=dict(loads=paper.sinking(("weak", 0.06, 4.65)))))
    assert {d.kind for d in made[:2]} == {Failure.SHORT, Failure.LEAKY_INPUT} and {d.pin for d in made[:2]} == {11}


def test_an_output_without_contact_is_no_stuck_input():
    """An open collector without contact reads high, as if an input of it were stuck; all else answers rightly."""
    part = load_part("7405")
    record = paper.chip(part, **paper.SPICE["7400"])
    broken = replace(record.contacts[5], contact=Contact.OPEN, sentence="pin 6 (3Y) makes no contact: an open bond, or a dirty leg")
    made = diagnose(part, sick(record, contacts=[broken]), [(5, False)])
    assert made[0].kind == Failure.OPEN_OUTPUT and made[0].pin == 6


def test_what_is_said_for_and_against_a_resistance_and_lost_gain():
    """Each sentence with its figures; few ohms are hardly a bond, many are."""
    name = "pin 8 (3Y)"
    lost = against(8, "VOL", f"{name} sinks 14.2 mA only at 0.78 V")

    def by_kind(low):
        made = diagnose(TTL, sick(SOUND, lost, p8=dict(loads=(*paper.sinking(*low), *paper.sourcing(*HIGH)))))
        for d in made:
            assert all(isinstance(text, str) and len(text.split()) > 3 for text in (d.sentence, *d.speaks_for, *d.speaks_against)), d
        return {d.kind: d for d in made if d.pin == 8}
    few, many, gain = by_kind(paper.plus(LOW, 4)), by_kind(paper.plus(LOW, 25)), by_kind(WEAK)
    assert gain[Failure.LOST_GAIN].sentence == f"the transistor that pulls {name} low has lost its gain"
    assert "its current stays near 15.0 mA while its volts run away" in gain[Failure.LOST_GAIN].speaks_for
    assert f"there are about 25 ohm in the way of {name}: a bond, or the metal" == many[Failure.SERIES].sentence
    assert "its excess is in proportion to the current" in many[Failure.SERIES].speaks_for
    hardly = "so few ohms are hardly a bond"
    assert hardly in few[Failure.SERIES].speaks_against and hardly not in many[Failure.SERIES].speaks_against
    assert any(text.startswith(f"{name} is 0.06 V higher than its like at 16.1 mA") for text in few[Failure.SERIES].speaks_for)
