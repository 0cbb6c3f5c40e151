"""Ways through the measurement that few sweeps go: a saturated line of four points, a level reached only beyond the rated points,
a reference that saturates with no level to compare it by, a calibrated supply amplifier, another fixture's channels.

Curves are those of the device's equation (any textbook), worked out here; currents and ohms are worked out by hand.

SPDX-License-Identifier: MIT
"""
from math import log

import pytest

from sagbench.measure.bend import KT_Q, Line, Point, bend
from sagbench.measure.figures import Figures, measured
from sagbench.measure.foreign import MOST_U, strangeness
from sagbench.measure.model import Model, Priors
from sagbench.measure.outputs import off_leakage
from sagbench.measure.uncertain import exact, standard, uncertain, value
from sagbench.parts import load_part
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Reading
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")
AT = (0.5e-3, 4e-3, 9e-3, 15e-3)


def points(curve, *currents, u=1e-6):
    return tuple(Point(f"p{n}", uncertain(curve(i), u), exact(i)) for n, i in enumerate(currents))


# ------------------------------------------------------------------ a saturated transistor of four points
def saturated(i):
    """20 mV, kT/q ln(1 + I / 0.1 mA) and 8 ohm."""
    return 0.02 + KT_Q * log(1 + i / 1e-4) + 8.0 * i


def test_a_point_behind_that_lies_on_the_same_curve_confirms_it():
    """By the point before or by the one behind: the equation is the same, and what it says is surer than that there is a bend at all."""
    line = points(saturated, *AT)
    of = Line(3, True, line, exact(saturated(0.0)))
    found = bend(of, line, line[1], line[2], 6e-3)
    chord = saturated(4e-3) + (saturated(9e-3) - saturated(4e-3)) * 2 / 5
    assert found.volts == pytest.approx(saturated(6e-3) - chord, abs=1e-6)
    three = bend(of, line[:3], line[1], line[2], 6e-3)                                        # nothing behind tells the same
    assert three.volts == pytest.approx(found.volts, rel=0.3) and 0 < found.sd < abs(found.volts)


def test_a_point_behind_off_that_curve_adds_a_doubt_and_one_that_bends_the_other_way_halves_the_bend():
    line = points(saturated, *AT)
    of = Line(3, True, line, exact(saturated(0.0)))
    there = bend(of, line, line[1], line[2], 6e-3)
    low, high = (bend(of, (*line[:3], points(lambda i, d=d: saturated(i) + d, AT[3])[0]), line[1], line[2], 6e-3) for d in (-3e-4, 0.2))
    assert low.volts == there.volts and low.sd > there.sd
    assert high.volts == pytest.approx(there.volts / 2) and high.sd > abs(high.volts)       # its gain is about to run out


# ------------------------------------------------------------------ figures
def of_a_7400(high, beyond=()):
    """Figures of its pin 3: this high side, a low side of 10 ohm, and points beyond the rated ones."""
    low = points(lambda i: 0.05 + 10 * i, 0.56e-3, 8e-3, 17e-3)
    lines = [Line(3, True, low, exact(0.05), exact(5.0)), Line(3, False, high, exact(3.6), exact(5.0))]
    return {m.name: m for m in measured(load_part("7400"), Figures(lines=lines, beyond={3: beyond} if beyond else {}))}


def test_the_rated_current_flows_into_a_low_output_and_out_of_a_high_one():
    """Positive into the pin, as data books write it: 16 mA and -0.4 mA (DM7400)."""
    found = of_a_7400(points(lambda i: 3.5 - 100 * i, 0.3e-3, 5e-3))
    assert found["VOL"].at.value == pytest.approx(16e-3) and found["VOH"].at.value == pytest.approx(-0.4e-3)
    assert found["VOL"].value.value == pytest.approx(0.05 + 0.16, abs=2e-3) and found["VOH"].value.value == pytest.approx(3.46, abs=10e-3)


def test_the_current_at_which_a_high_level_is_lost_is_looked_for_beyond_the_rated_points_too():
    """3.5 V behind 100 ohm comes to VIH, 2 V, at 15 mA: between 5 and 20 mA, of which the second lies beyond the load line."""
    def curve(i):
        return 3.5 - 100 * i
    high = points(curve, 0.3e-3, 5e-3)
    alone, further = of_a_7400(high), of_a_7400(high, points(curve, 20e-3, 25e-3))
    assert alone["IOH at VIH"].how == "not reached" and alone["IOH at VIH"].value.value == pytest.approx(-5e-3)
    assert further["IOH at VIH"].how == "interpolated" and further["IOH at VIH"].value.value == pytest.approx(-15e-3)
    assert further["IOL at VIL"].value == alone["IOL at VIL"].value                              # of the low side nothing lies there


# ------------------------------------------------------------------ the model
def reading(code, **mark):
    return Reading(Mark(**{"what": "position", "position": 6, **mark}), round(code * mark.get("repeats", 1)))


def test_a_reference_that_saturates_lies_below_2_5_volts_and_in_the_middle_of_what_is_left():
    """2.4 V at least (ATmega2560), below 2.5 V, for that read full scale: 2.45 V, evenly to both sides."""
    model = Model(FIXTURE)
    model.learn_rail(reading(512, what="vref", repeats=64))
    model.learn_2v56(reading(1023, what="vref", reference=Reference.V2V56))
    found = model.references[Reference.V2V56]
    assert value(found) == pytest.approx(2.45) and 0.01 < standard(found) < 0.05


def test_leakage_of_an_output_that_is_off_is_read_through_the_trickle_load_unless_that_cannot_hold_it():
    """Pulled to 5 V through 100 kohm: 4.9 V are 1 uA; at 1.5 V it takes 35 uA, and 8.2 kohm tell it better, at 4.7 V (some 36 uA)."""
    model = Model(FIXTURE)
    model.learn_rail(reading(512, what="vref", repeats=64))
    weak, trickle = 1, 2                                                                     # channels of the load selector (wiring.toml)

    def pulled(volts, selector, up=True):
        return reading(volts / 5 * 1024, selector=selector, up=up, repeats=64)
    fine, sagging, coarse = pulled(4.9, trickle), pulled(1.5, trickle), pulled(4.7, weak)
    little = off_leakage(model, fine, coarse, None)
    assert little.at.value == pytest.approx(4.9, abs=0.01) and value(little.number) == pytest.approx(1e-6, rel=0.1)
    much = off_leakage(model, sagging, coarse, None)
    assert much.at.value == pytest.approx(4.7, abs=0.01) and value(much.number) == pytest.approx(36e-6, rel=0.1)
    lifted = off_leakage(model, fine, coarse, exact(0.1))                                     # the chip's own ground is 0.1 V up
    assert lifted.at.value == pytest.approx(4.8, abs=0.01) and value(lifted.number) == pytest.approx(1e-6, rel=0.1)
    down = off_leakage(model, pulled(0.1, trickle, up=False), None, None)
    assert value(down.number) == pytest.approx(-1e-6, rel=0.1) and off_leakage(model, None, None, None) is None


def test_a_calibrated_supply_amplifier_rules_over_its_resistors():
    known = Model(FIXTURE, Priors({"icc_gain": (17.6, 0.02)}, "bench certificate"))
    assert value(known.icc_gain()) == 17.6 and standard(known.icc_gain()) == pytest.approx(0.02)
    plain = Model(FIXTURE).icc_gain()
    assert value(plain) != 17.6 and standard(plain) > 0.1


def channel(ohm, repeats=64):
    """590 ohm to ground below the channel, 8200 + 30 + 90 above it to 5 V; read against 5 V."""
    return reading((590 + ohm) / (590 + ohm + 8320) * 1024, what="position", label="channel", selector=1, up=True, repeats=repeats)


def test_channels_that_are_as_calibrated_are_no_strangers_and_others_are_by_their_median():
    """A channel has more ohms away from the rails (CMOS, any data sheet): what was calibrated at a rail is held against the divider's level."""
    bare = Model(FIXTURE)
    bare.learn_rail(reading(512, what="vref", repeats=64))
    ohm, level = bare.channel_ohm(channel(100))
    assert value(ohm) == pytest.approx(100, abs=12) and 0.05 < level < 0.1
    assert strangeness(bare, [channel(160)]) == 0.0, "nothing is calibrated"

    model = Model(FIXTURE, Priors({"medium_drive[6].low": (590.0, 0.1), "weak_load.high": (8230.0, 0.5), "channel[6]": (100.0, 0.2)}, "own"))
    model.learn_rail(reading(512, what="vref", repeats=64))
    there = value(model.ron(6, level))
    measured_for = next(x for x in range(80, 120) if value(model.channel_ohm(channel(x))[0]) > there)

    def away(*more):
        """Strangeness where the channel's divider reads so many ohms more."""
        return strangeness(model, [channel(measured_for + x) for x in more])
    assert there > 102 and away(0) < 0.2 < away(-4) and away(60) > MOST_U
    assert away(0, 0, 60) == away(0) and away(60, 0, 60) == away(60)                            # one of three may leak
