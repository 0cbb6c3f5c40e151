"""What a chip's silicon is like, and what one output does beside its like: figures of chips on paper, worked out by hand.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace
from math import hypot, inf

import pytest

from host.judge import paper
from sagbench.judge.case import Case, Shape
from sagbench.judge.traits import is_bus, traits
from sagbench.parts import load_part
from sagbench.record import Contact, Finding, Measured, Outcome, PinContact, Quantity

TTL = load_part("7400")
SOUND = paper.chip(TTL, **paper.SPICE["7400"])


def test_each_trait_is_the_median_of_the_pins_that_show_it():
    found = traits(TTL, SOUND)
    assert set(found) == {"iil_ma", "vt_v", "vol_light_v", "rol_ohm", "voh_drop_v", "ios_ma"}
    seen = {key: (trait.value, trait.u, trait.count) for key, trait in found.items()}
    assert seen["iil_ma"] == (pytest.approx(-0.958e-3), 2e-6, 8)
    assert seen["vt_v"] == (1.413, 0.01, 8)
    assert seen["vol_light_v"] == (0.047, 0.002, 4)
    assert seen["ios_ma"] == (-28.3e-3, pytest.approx(1.415e-3), 4)
    # From 0.56 to 8.3 mA 93 mV, each level read to 4 mV; the high level 5 V less 3.524 V, read to 20 mV.
    assert seen["rol_ohm"] == (pytest.approx(0.093 / 7.74e-3), pytest.approx(hypot(0.004, 0.004) / 7.74e-3 / 2), 4)
    assert seen["voh_drop_v"] == (pytest.approx(1.476), pytest.approx(0.01), 4)


def test_what_is_read_together_with_the_supply_is_not_doubted_by_its_own_uncertainty_alone():
    loads = tuple(replace(r, volts=Quantity(r.volts.value, 0.3, "V")) for r in SOUND.pins[2].loads)
    one = replace(SOUND, pins=tuple(replace(p, loads=loads) if p.loads else p for p in SOUND.pins))
    assert traits(TTL, one)["voh_drop_v"].u == pytest.approx(0.01)
    assert "voh_drop_v" not in traits(TTL, replace(SOUND, supply_volts=None))


def test_one_bad_gate_does_not_make_another_family():
    one = paper.changed(SOUND, 3, loads=paper.sinking(("weak", 0.56, 0.9), ("medium", 8.3, 2.0)), measured=())
    assert traits(TTL, one)["vol_light_v"].value == 0.047 and traits(TTL, one)["rol_ohm"].count == 4
    wrong = paper.changed(one, 3, findings=(Finding("logic", Outcome.BEYOND, "stuck", 3, weight=90),))
    assert traits(TTL, wrong)["vol_light_v"].count == 3
    under_load = paper.changed(one, 3, findings=(Finding("logic", Outcome.BEYOND, "gives way", 3, state="strong", weight=75),))
    assert traits(TTL, under_load)["vol_light_v"].count == 4
    for contact, count in ((Contact.SHORTED, 3), (Contact.OPEN, 3), (Contact.CONNECTED, 4)):
        touched = replace(SOUND, contacts=(PinContact(3, contact), *SOUND.contacts[3:]))
        assert traits(TTL, touched)["ios_ma"].count == count
    assert traits(TTL, paper.changed(SOUND, 1, measured=(Measured("VT+", 1, Quantity(inf, 0.1, "V")),)))["vt_v"].count == 7


def test_an_input_current_is_that_of_one_unit_load_and_is_taken_from_its_finding_where_there_is_no_more():
    """Enable of a 7475 stands for four unit loads (TI data book, from memory), its data inputs for two."""
    latch = load_part("7475")
    loads = {pin.number: pin.low_unit_loads for pin in latch.pins if pin.role.is_input}
    assert set(loads.values()) == {2.0, 4.0}
    record = paper.chip(latch, **paper.SPICE["7400"])
    assert traits(latch, record)["iil_ma"].value == pytest.approx(-0.958e-3)
    assert list(Case(latch, record).of_inputs("IIL").values()) == pytest.approx([-0.958e-3] * len(loads))
    bare = replace(record, pins=tuple(
        replace(p, measured=(), findings=(Finding("IIL", Outcome.WITHIN, "so much", p.pin, Quantity(-1e-3 * loads[p.pin], 2e-6, "A")),))
        if p.pin in loads else p for p in record.pins))
    assert (traits(latch, bare)["iil_ma"].value, traits(latch, bare)["iil_ma"].count) == (pytest.approx(-1e-3), len(loads))
    assert list(Case(latch, bare).of_inputs("IIL").values()) == pytest.approx([-1e-3] * len(loads))
    thresholds = Case(latch, record).of_inputs("VT+")
    assert set(thresholds.values()) == {1.413}                        # volts are volts, however many unit loads


def test_where_an_output_is_rated_for_much_less_its_resistance_is_taken_up_to_the_reference():
    """A 74L output is rated for 3.6 mA (TI data book, from memory): 7.5 mA are in its knee; a CMOS output's is its channel's, whatever its rating."""
    points = (("weak", 0.56, 0.10), ("exact", 3.8, 0.16), ("medium", 7.5, 0.90))
    low_power = load_part("74L00")
    record = paper.chip(low_power, iil=-0.1e-3, low=points, high=(("weak", 0.4, 3.4),), icc={})
    assert traits(low_power, record)["rol_ohm"].value == pytest.approx(0.06 / 3.24e-3)
    assert traits(TTL, paper.chip(TTL, iil=-1e-3, low=points, high=(), icc={}))["rol_ohm"].value == pytest.approx(0.8 / 6.94e-3)
    cmos = load_part("4011")
    assert traits(cmos, paper.chip(cmos, iil=0.0, low=points, high=(), icc={}))["rol_ohm"].value == pytest.approx(0.8 / 6.94e-3)
    near = (("weak", 0.56, 0.10), ("medium", 1.5, 0.16))              # less than a milliampere apart: no slope
    assert "rol_ohm" not in traits(TTL, paper.chip(TTL, iil=-1e-3, low=near, high=(), icc={}))
    assert "rol_ohm" not in traits(low_power, paper.chip(low_power, iil=-1e-4, low=(points[0], points[2]), high=(), icc={}))


@pytest.mark.parametrize(("name", "bus"), [("74LS244", True), ("74LS00", False), ("7400", False), ("7437", True), ("74HC244", True)])
def test_a_bus_driver_is_rated_for_more_than_its_family(name, bus):
    """Common practice; a 7437 (buffer) sinks 48 mA where a 7400 sinks 16 (TI data book, from memory)."""
    part = load_part(name)
    assert {is_bus(part, pin.number) for pin in part.outputs} == {bus}
    found = traits(part, paper.chip(part, **paper.SPICE["7400"]))
    assert ("rol_ohm" in found) is ("ios_ma" in found) is not bus and "vol_light_v" in found


def test_an_open_collector_has_no_high_level_of_its_own_and_a_schmitt_trigger_no_plain_threshold():
    assert "voh_drop_v" not in traits(load_part("7403"), paper.chip(load_part("7403"), **paper.SPICE["7400"]))
    assert "vt_v" not in traits(load_part("74132"), paper.chip(load_part("74132"), **paper.SPICE["7400"]))


# ------------------------------------------------------------------ one output beside its like
@pytest.mark.parametrize(("name", "shown"), [("74LS47", False), ("74LS245", True)])
def test_what_a_resistor_pulls_up_shows_no_output_of_its_family(name, shown):
    """The 47's blanking pin is the only one of it that goes high; a 245's outputs can be off."""
    part = load_part(name)
    assert ("voh_drop_v" in traits(part, paper.chip(part, **paper.SPICE["74LS00"]))) is shown


def shape(*rows, slack=0.0, bare=0.0, bare_slack=0.0, doubt=()):
    """Rows: (amperes, volts, excess)."""
    amperes, volts, excess = zip(*rows, strict=True) if rows else ((), (), ())
    return Shape(amperes, volts, excess, bare, (slack,) * len(amperes), bare_slack, doubt)


def test_a_resistance_is_told_by_its_excess_in_proportion():
    """25 ohm more in the way."""
    made = shape(*((i, 0.1 + 30 * i, 25 * i) for i in (0.5e-3, 8e-3, 16e-3)))
    assert made.ohm == pytest.approx(25) and made.misfit == pytest.approx(0, abs=1e-12)
    assert made.growth == pytest.approx(1) and not made.late
    assert made.cliff == pytest.approx(30 * 16e-3 / (0.1 + 30 * 16e-3))
    assert made.most == pytest.approx(0.4)


def test_a_resistance_is_the_least_squares_through_the_origin_and_its_misfit_what_is_left():
    """Two points, 10 mA with 0.1 V and 20 mA with 0.3 V: (1 + 6) / (1 + 4) of 10 ohm; 40 and 20 mV are left, of 100 and 300."""
    made = shape((10e-3, 0.2, 0.1), (20e-3, 0.4, 0.3))
    assert made.ohm == pytest.approx(14)
    assert made.misfit == pytest.approx((0.04 ** 2 + 0.02 ** 2) ** 0.5 / (0.1 ** 2 + 0.3 ** 2) ** 0.5)
    assert made.growth == pytest.approx(1.5)                          # 15 ohm at the heaviest, 10 at half of it
    assert shape((10e-3, 0.2, -0.1), (20e-3, 0.4, 0.3)).growth == 1.0
    assert shape((2e-3, 0.2, 0.1), (20e-3, 0.4, 0.3)).growth == 1.0   # none at a quarter to three quarters
    assert shape((16e-3, 0.2, 0.1), (20e-3, 0.4, 0.3)).growth == 1.0


def test_the_uncertainty_of_a_resistance_is_that_of_all_volts_the_same_way():
    rows = ((10e-3, 0.2, 0.1), (20e-3, 0.4, 0.3))
    assert shape(*rows, slack=0.02).ohm_u == pytest.approx(0.02 * 30e-3 / (500e-6))
    assert shape(*rows, slack=0.02, doubt=(0.05, 0.01)).ohm_u == pytest.approx((0.05 * 10e-3 + 0.02 * 20e-3) / 500e-6)


def test_a_limit_is_told_by_what_a_lighter_load_does_not_show():
    assert shape((8e-3, 0.1, 0.0), (16e-3, 2.0, 1.6)).late            # 80 ohm fit best: 0.64 V at 8 mA, where nothing is
    assert not shape((8e-3, 0.1, 0.45), (16e-3, 2.0, 1.6)).late
    assert not shape((1e-3, 0.1, 0.0), (16e-3, 2.0, 1.6)).late        # 0.1 V at 1 mA could be missed


def test_a_cliff_is_steeper_than_the_volts_per_ampere_there():
    """From 0.2 V at 10 mA to 2.2 V at 11: 2000 ohm, where 2.2 V at 11 mA are 200; a current that reads less at more volts is no step back."""
    assert shape((10e-3, 0.2, 0.1), (11e-3, 2.2, 2.0)).cliff == pytest.approx(10)
    assert shape((11e-3, 0.2, 0.1), (10e-3, 2.2, 2.0)).cliff == pytest.approx(2.0 / 0.1e-3 / 220)
    assert shape((10e-3, 0.2, 0.1)).cliff == shape((1e-3, 0.01, 0), (2e-3, 0.04, 0)).cliff == 1.0


def test_what_its_like_may_have_is_no_excess():
    made = shape((8e-3, 0.1, 0.05), (16e-3, 0.4, 0.25), slack=0.1, bare=0.3, bare_slack=0.1)
    assert made.most == pytest.approx(0.15) and made.surely_bare == pytest.approx(0.2)
    empty = shape()
    assert (empty.most, empty.ohm, empty.ohm_u, empty.misfit, empty.growth, empty.late, empty.cliff) == (0, 0, 0, 1, 1, False, 1)


def test_an_output_is_held_against_the_median_of_its_sisters():
    """Straight lines through their points, prolonged at the heavy end; with the level without load where it is known."""
    worse = tuple(replace(r, volts=Quantity(r.volts.value + 0.05, 0.004, "V")) for r in SOUND.pins[7].loads)
    case = Case(TTL, paper.changed(SOUND, 8, loads=worse))
    assert case.sisters(8) == [3, 6, 11]
    low, high = case.shape(8, True), case.shape(8, False)
    assert low.beside_sisters and low.excess == pytest.approx([0.05] * 3) and low.amperes == pytest.approx((0.56e-3, 8.3e-3, 16.1e-3))
    assert high.excess == pytest.approx([-0.05] * 2)                  # higher is better, where it sources
    assert low.slack == (0.004,) * 3 and low.doubt == (0.004,) * 3 and low.bare == 0
    assert case.sisters(3) == [6, 8, 11]
    for spoilt in (replace(case.record, contacts=(PinContact(11, Contact.OPEN),)),
                   paper.changed(case.record, 11, findings=(Finding("logic", Outcome.BEYOND, "stuck", 11, weight=90),))):
        assert Case(TTL, spoilt).sisters(8) == [3, 6]


def test_with_fewer_than_two_sisters_it_is_held_against_its_family():
    alone = replace(SOUND, contacts=tuple(PinContact(pin, Contact.OPEN) for pin in (3, 6)))
    made = Case(TTL, alone).shape(8, True)
    assert not made.beside_sisters and all(s > 0.004 for s in made.slack) and made.bare_slack > 0
    assert abs(made.excess[0]) < made.slack[0]                        # a sound 7400 by the textbook is within its family


def test_the_currents_of_like_inputs_are_compared_and_equal_leaks_are_told():
    inputs = [1, 2, 4, 5, 9, 10, 12, 13]
    case = Case(TTL, SOUND)
    assert case.others("IIL", 1) == case.others("IIL", 1, like=True) == pytest.approx(-0.958e-3)
    few = replace(SOUND, pins=tuple(replace(p, measured=() if p.pin in inputs[2:] else p.measured) for p in SOUND.pins))
    assert Case(TTL, few).others("IIL", 1) is None and Case(TTL, few).others("IIL", 13) == pytest.approx(-0.958e-3)

    def leak(pin, amperes):
        return Finding("IIH", Outcome.BEYOND, "leaks", pin, Quantity(amperes, 1e-5, "A"), weight=65)
    leaky = SOUND
    for pin, amperes in ((1, 1.00e-3), (2, 1.02e-3), (4, 1.10e-3)):
        leaky = paper.changed(leaky, pin, findings=(leak(pin, amperes),))
    assert Case(TTL, leaky).twins == []                               # all answers are right: leaks all the same
    wrong = paper.changed(leaky, 3, findings=(Finding("logic", Outcome.BEYOND, "stuck", 3, weight=90),))
    assert Case(TTL, wrong).twins == [1, 2] and Case(TTL, wrong).share_beyond("IIH", "IIL") == 3 / 8


def test_what_speaks_against_a_pin():
    fine = Finding("ICC", Outcome.UNSURE, "too fine", 3)
    near = Finding("VOL", Outcome.UNSURE, "near", 3, weight=15)
    odd = Finding("VOL", Outcome.ODD, "unlike", 3, state="sisters", weight=30)
    reason = Finding("logic", Outcome.BEYOND, "stuck", 3, weight=90)
    case = Case(TTL, replace(paper.changed(SOUND, 3, findings=(fine, near, odd, Finding("VOH", Outcome.WITHIN, "good", 3))), reasons=(reason, odd)))
    assert case.found[3] == [near, odd, reason] and case.found[6] == []
    assert case.has(3, "VOL") is odd and case.has(3, "VOL", outcome=Outcome.UNSURE) is near
    assert case.has(3, "VOL", state="") is near and case.has(3, "VOL", "logic") is reason and case.has(3, "VOH") is None
    assert case.wrong == [3] and case.chip("sisters") is odd and case.chip("cause") is None
