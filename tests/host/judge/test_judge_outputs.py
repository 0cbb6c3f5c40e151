"""Outputs judged.

Lines are those of transistor-level models in ngspice under the fixture's loads (7400, LS00: textbook
circuits; gain of the output transistor 40 when sound), limits those of the data books.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.outputs import _Scale, judge_headroom, judge_off, judge_rated, load_readings
from sagbench.judge.sisters import judge_sisters
from sagbench.measure.line import Line, Point
from sagbench.measure.uncertain import exact, uncertain
from sagbench.parts import Limit, Rated, load_part
from sagbench.record import Outcome, Quantity

TTL, LS, HC = load_part("7400"), load_part("74LS00"), load_part("74HC00")


def line(pin, points, up=True, unloaded=None, u=0.002):
    """Points: name -> (milliamperes, volts)."""
    made = tuple(Point(name, uncertain(v, u), uncertain(ma / 1e3, 0.02 * ma / 1e3)) for name, (ma, v) in points.items())
    return Line(pin, up, made, None if unloaded is None else uncertain(unloaded, u))


GOOD = {"weak": (0.56, 0.047), "medium": (8.3, 0.140), "strong": (16.1, 0.219), "both": (23.9, 0.293)}
BETA_6 = {"weak": (0.56, 0.048), "medium": (8.3, 0.160), "strong": (14.2, 0.779), "both": (15.0, 2.134)}
PLUS_25 = {"weak": (0.56, 0.062), "medium": (8.0, 0.335), "strong": (14.9, 0.579), "both": (23.0, 0.801)}
LS_GOOD = {"weak": (0.56, 0.317), "medium": (7.9, 0.390), "strong": (15.3, 0.447)}
LS_BETA_15 = {"weak": (0.56, 0.320), "medium": (7.2, 0.759), "strong": (7.5, 2.782)}


def vol(part, points, rated=-1, pin=6):
    return judge_rated(part, line(pin, points), part.limits[pin].vol[rated], None, True)


def test_a_good_7400_output_is_within_and_the_sentence_gives_current_level_and_limit():
    finding = vol(TTL, GOOD)
    assert finding.outcome is Outcome.WITHIN and finding.margin == pytest.approx(0.181)
    assert finding.sentence == "pin 6 (2Y) sinks 16.1 mA at 0.22 V; the limit is 0.40 V"


def test_an_output_that_has_lost_gain_is_named_with_its_figures_though_it_never_draws_the_rated_current():
    finding = vol(TTL, BETA_6)
    assert finding.outcome is Outcome.BEYOND
    assert finding.sentence.startswith("pin 6 (2Y) sinks 14.2 mA only at 0.78 V; a 7400 must hold 0.40 V at 16 mA")
    assert "sink transistor has become weak" in finding.sentence


def test_series_resistance_is_told_from_lost_gain_and_given_in_ohms():
    finding = vol(TTL, PLUS_25)
    assert (
        finding.outcome is Outcome.BEYOND and "rises as along 37 ohm, some 10 of them usual: a series resistance" in finding.sentence
    )  # 25 and its own 12


def test_a_current_that_a_heavier_load_does_not_raise_is_lost_gain_and_no_current_at_all_is_said():
    """Only the weak load is borne: the line from there on, prolonged to no current, would begin far below ground."""
    given_way = vol(LS, {"trickle": (0.047, 0.301), "weak": (0.551, 0.334), "medium": (1.983, 3.807), "strong": (1.954, 4.392)})
    assert "sink transistor has become weak" in given_way.sentence and "resistance" not in given_way.sentence
    dead = vol(LS, {"trickle": (0.002, 5.038), "weak": (0.002, 5.2)})
    assert dead.outcome is Outcome.BEYOND and dead.sentence.endswith("it does not pull low at all")


def test_a_cliff_somewhere_between_two_points_is_no_proof_at_the_rated_current_between_them():
    edge = {"weak": (0.56, 0.047), "medium": (8.2, 0.128), "strong": (12.0, 0.17), "both": (17.0, 0.70)}  # lost at 12 mA, or only at 16?
    assert vol(TTL, edge).outcome is Outcome.UNSURE
    rises = {"medium": (8.2, 0.25), "strong": (14.0, 0.38), "both": (21.6, 0.62)}
    assert vol(TTL, rises).outcome is Outcome.BEYOND, "prolonged from below it is lost as well"


def test_a_point_whose_own_volts_are_doubtful_proves_nothing():
    heavy = Rated("VOL", 0.060, Limit(0.5, "memory"))
    points = [("strong", 15.0, 0.408, 0.002), ("both", 22.6, 0.415, 0.002), ("heavy", 31.8, 0.66, 0.065)]
    made = Line(6, True, tuple(Point(n, uncertain(v, u), uncertain(ma / 1e3, 1e-4)) for n, ma, v, u in points))
    assert judge_rated(TTL, made, heavy, None, True).outcome is Outcome.NOT_MEASURED
    surely = Line(6, True, (*made.points[:2], Point("heavy", uncertain(0.66, 0.01), uncertain(31.8e-3, 1e-4))))
    assert judge_rated(TTL, surely, heavy, None, True).outcome is Outcome.BEYOND


def test_an_ls_output_has_two_ratings_and_the_cliff_is_not_read_into_the_lower_one():
    assert [vol(LS, LS_GOOD, i).outcome for i in (0, 1)] == [Outcome.WITHIN, Outcome.WITHIN]
    at_4, at_8 = vol(LS, LS_BETA_15, 0), vol(LS, LS_BETA_15, 1)
    assert at_8.outcome is Outcome.BEYOND
    assert at_4.outcome is Outcome.UNSURE, "anything between 0.32 and 0.76 V is possible at 4 mA"


def test_a_level_within_its_uncertainty_of_the_limit_cannot_be_told():
    near = {"medium": (8.3, 0.2), "strong": (16.1, 0.399)}
    assert vol(TTL, near).outcome is Outcome.UNSURE and "too near" in vol(TTL, near).sentence


def test_a_harder_point_that_is_surely_within_clears_what_interpolation_cannot():
    points = {"weak": (0.56, 0.05), "medium": (8.3, 0.14), "both": (23.9, 0.30)}
    assert vol(TTL, points).outcome is Outcome.WITHIN


def test_what_was_not_loaded_is_not_measured():
    finding = vol(TTL, {})
    assert finding.outcome is Outcome.NOT_MEASURED and finding.value is None and "not measured" in finding.sentence


def test_why_a_level_was_not_measured_is_said_and_whether_a_fixture_could():
    """A gate that was not loaded, or not brought to it; and a monostable's pulse, which no test holds still."""
    def said(part, pin, points=(), **more):
        made = judge_rated(part, line(pin, dict(points), **{k: v for k, v in more.items() if k == "up"}),
                           (part.limits[pin].vol if more.get("up", True) else part.limits[pin].voh)[0], uncertain(5.0, 0.01), True,
                           comes=more.get("comes", True))
        assert made.outcome is Outcome.NOT_MEASURED and made.weight == 0 and made.value is None
        return made.sentence.partition(" was not measured: ")[2], made.out_of_reach
    assert said(TTL, 6) == ("not loaded", False)
    assert said(TTL, 6, comes=False) == ("what the fixture can hold of the inputs does not bring the output low", False)
    assert said(TTL, 6, comes=False, up=False) == ("what the fixture can hold of the inputs does not bring the output high", False)
    assert said(TTL, 6, {"weak": (0.5, 0.1)}, comes=False) == ("the load points do not reach it", True)
    pulse = load_part("74121")
    rests_low = next(p.number for p in pulse.outputs if p.name == "Q")
    still = "no state of its test holds the output high, and loads do not reach what does not stand still"
    assert said(pulse, rests_low, up=False) == (still, True) and said(pulse, rests_low) == ("not loaded", False)


def test_a_rating_beyond_the_load_points_is_named_not_guessed():
    heavy = Rated("VOL", 0.064, Limit(0.55, "memory"))
    finding = judge_rated(LS, line(6, {"strong": (15, 0.3), "both": (22, 0.33)}), heavy, None, True)
    assert finding.outcome is Outcome.NOT_MEASURED and "do not reach" in finding.sentence


def test_a_weak_pull_up_is_named():
    voh = TTL.limits[6].voh[0]
    finding = judge_rated(TTL, line(6, {"weak": (0.26, 2.19), "medium": (0.9, 0.5)}, up=False), voh, None, True)
    assert finding.outcome is Outcome.BEYOND and "pull-up has become weak" in finding.sentence
    assert finding.value.value == pytest.approx(2.19 - 0.14 * 1.69 / 0.64, abs=0.01)  # 0.40 mA between 0.26 and 0.90 mA


def test_a_level_against_the_supply_is_compared_with_the_supply_and_what_they_share_cancels():
    common = uncertain(1.0, 0.003)  # one reference scales both
    supply = 4.90 * common
    high = Line(3, False, (Point("trickle", 4.895 * common, uncertain(49e-6, 1e-6)),), 4.897 * common)
    limit = Rated("VOH", -20e-6, Limit(-0.1, "memory", "min"), relative_to_supply=True)
    finding = judge_rated(HC, high, limit, supply, False)
    assert finding.outcome is Outcome.WITHIN and finding.value.u < 0.001 and finding.limit == pytest.approx(4.80)


def test_a_low_level_lost_just_above_its_rating_is_out_of_character():
    edge = {"weak": (0.56, 0.05), "medium": (8.3, 0.15), "strong": (16.1, 0.30), "both": (17.1, 1.52)}
    finding = judge_headroom(TTL, line(6, edge), TTL.limits[6])
    assert finding.outcome is Outcome.ODD and "17.1 mA" in finding.sentence, "past the cliff the current stays what it is at its edge"
    assert judge_headroom(TTL, line(6, GOOD), TTL.limits[6]) is None
    lost = {"weak": (0.56, 0.31), "medium": (5.0, 2.2)}
    assert "loses its low level at 5 mA, less than" in judge_headroom(TTL, line(6, lost), TTL.limits[6]).sentence
    low_power = {"weak": (0.58, 0.14), "exact": (3.7, 0.32), "medium": (6.1, 1.46)}  # of a sound 74L20, rated for 3.6 mA
    assert judge_headroom(load_part("74L00"), line(6, low_power), load_part("74L00").limits[6]) is None, "lost at 1.7 times its rating"
    assert judge_headroom(LS, line(6, LS_GOOD), LS.limits[6]) is None


def test_an_output_unlike_its_sisters_is_found_by_a_robust_rule():
    lines = [line(p, GOOD, unloaded=0.038) for p in (3, 6, 11)] + [line(8, PLUS_25, unloaded=0.038)]
    found = judge_sisters(TTL, lines)
    assert set(found) == {8} and found[8].outcome is Outcome.ODD and "unlike its sister outputs" in found[8].sentence


def test_outputs_that_differ_as_much_as_specimens_do_are_left_in_peace():
    lines = [
        line(p, {n: (ma, v + d) for n, (ma, v) in GOOD.items()})
        for p, d in ((3, 0.0), (6, 0.012), (8, -0.01), (11, 0.02))
    ]
    assert not judge_sisters(TTL, lines)


def beside_five(volts, u, shared=0.0):
    """Six outputs of a 74AS804 under the heavy load, one unlike the others: 74AS804s whose lines reach 48 mA through channels only."""
    common = uncertain(0.0, shared)
    lines = []
    for pin, v in zip((3, 6, 9, 11, 14, 17), (0.28, 0.275, 0.285, 0.28, 0.282, volts), strict=True):
        lines.append(Line(pin, True, (Point("heavy", v + common + uncertain(0.0, u), uncertain(33e-3, 3e-4)),), uncertain(0.25, 0.002)))
    return judge_sisters(load_part("74AS804"), lines)


def test_an_output_is_unlike_its_sisters_only_where_their_own_doubt_does_not_make_the_difference():
    """0.40 V beside 0.28 V: nothing where each channel leaves 87 mV (k = 1) open, surely more where a calibrated one leaves 5 mV."""
    assert not beside_five(0.40, 0.087)
    assert set(beside_five(0.40, 0.005)) == {17}
    assert set(beside_five(1.5, 0.087)) == {17}


@pytest.mark.parametrize(("u", "found"), [(0.002, {8}), (0.010, set())])
def test_what_its_like_may_differ_by_must_surely_be_exceeded(u, found):
    """0.358 V beside 0.293 V: 0.015 V more than the 0.05 V that outputs of a chip may differ by; U of 5 mV, and of 25 mV."""
    lines = [line(p, {n: (ma, v + d) for n, (ma, v) in GOOD.items()}, u=u) for p, d in ((3, 0.0), (6, 0.0), (8, 0.065), (11, 0.0))]
    assert set(judge_sisters(TTL, lines)) == found


@pytest.mark.parametrize(("last", "found"), [((7.1, 0.75), set()), ((4.9, 2.05), {6})])
def test_how_far_beyond_twice_its_rating_a_sinks_gain_ends_is_no_fault(last, found):
    """74L44, rated for 3.6 mA, under M: one of ten sinks gives way at 2.0 times that, as some of a sound chip do; or at 1.4 times."""
    sound = {"weak": (0.57, 0.092), "exact": (3.62, 0.266), "medium": (7.6, 0.44)}
    part = load_part("74L44")
    lines = [line(p.number, sound | ({"medium": last} if p.number == 6 else {}), unloaded=0.045) for p in part.outputs]
    assert set(judge_sisters(part, lines)) == found


def test_beyond_its_rating_a_sink_that_has_gain_to_spare_is_compared():
    """74LS00 (8 mA) at 1.9 times its rating, 0.25 V more than the others."""
    lines = [line(p, {"weak": (0.55, 0.14), "medium": (7.8, 0.27), "strong": (15.0, v)}, unloaded=0.1) for p, v in ((3, 0.35), (6, 0.35), (8, 0.6), (11, 0.36))]
    assert set(judge_sisters(LS, lines)) == {8}


def test_what_all_outputs_share_is_no_doubt_of_their_difference():
    assert set(beside_five(0.40, 0.005, shared=0.1)) == {17}


AS_SOUND = {"weak": (0.55, 0.254), "medium": (7.8, 0.270), "strong": (15.3, 0.281), "both": (23.0, 0.290)}  # rated for 48 mA
AS_WEAK = {"weak": (0.55, 0.255), "medium": (7.8, 0.280), "strong": (15.2, 0.305), "both": (22.8, 0.328)}  # gain of 5: lost at some 45 mA


def test_where_loads_do_not_reach_the_rating_the_heaviest_is_looked_at_closely():
    part = load_part("74AS373")
    found = judge_sisters(part, [line(p, AS_SOUND, unloaded=0.254) for p in (2, 5, 6, 9, 12, 15, 16)] + [line(19, AS_WEAK, unloaded=0.254)])
    assert set(found) == {19} and found[19].outcome is Outcome.ODD and "under both loads" in found[19].sentence


def test_a_level_that_no_load_is_near_is_not_passed_over_where_it_is_on_the_way_beyond_its_limit():
    part = load_part("74AS373")
    steep = {"weak": (0.55, 0.30), "medium": (7.8, 0.36), "strong": (15.3, 0.41), "both": (23.0, 0.46)}  # 6.5 ohm: 0.62 V at 48 mA
    found = [judge_rated(part, line(2, points), part.limits[2].vol[-1], None, True) for points in (AS_SOUND, steep)]
    assert [f.outcome for f in found] == [Outcome.NOT_MEASURED, Outcome.UNSURE] and found[0].out_of_reach
    assert found[1].sentence.startswith("pin 2 (1Q) sinks 48 mA at 0.62 V (extrapolated; the heaviest load draws 23 mA)")


def test_a_level_prolonged_with_more_doubt_than_it_is_inside_its_limit_was_not_measured():
    oc = load_part("74LS06")
    points = {"weak": (0.54, 0.32), "medium": (7.6, 0.357), "strong": (14.9, 0.375), "both": (22.3, 0.388)}
    doubtful = line(2, points).points + (Point("heavy", uncertain(0.44, 0.07), uncertain(32e-3, 1e-4)),)
    finding = judge_rated(oc, Line(2, True, doubtful, None), oc.limits[2].vol[-1], None, True)
    assert finding.outcome is Outcome.NOT_MEASURED and finding.out_of_reach and finding.value is None
    assert "the heaviest load is lighter" in finding.sentence
    worse = (*doubtful[:-1], Point("heavy", uncertain(0.66, 0.07), uncertain(32e-3, 1e-4)))
    finding = judge_rated(oc, Line(2, True, worse, None), oc.limits[2].vol[-1], None, True)
    assert finding.outcome in (Outcome.UNSURE, Outcome.BEYOND), "prolonged beyond its limit it is not passed over"


def test_two_outputs_cannot_outvote_each_other():
    lines = [line(6, GOOD), line(8, PLUS_25)]
    assert not judge_sisters(load_part("7420"), lines)


@pytest.mark.parametrize(
    ("name", "microamps", "high", "expected"),
    [
        ("74LS125", 5, True, Outcome.WITHIN),
        ("74LS125", 100, True, Outcome.BEYOND),
        ("74LS125", 19, False, Outcome.UNSURE),
        ("74LS245", 100, False, Outcome.WITHIN),
        ("74LS245", 100, True, Outcome.BEYOND),
    ],
)
def test_leakage_of_an_output_that_is_off(name, microamps, high, expected):
    """LS three-state: 20 uA; a transceiver's pin is an input too and may deliver 0.2 mA when low (data books)."""
    part = load_part(name)
    pin = part.outputs[0].number
    assert judge_off(part, pin, Quantity(microamps * 1e-6, 3e-6, "A"), high).outcome is expected


def test_a_leakage_limit_finer_than_the_fixture_gives_no_finding_unless_surely_missed():
    part = load_part("74HC245")
    pin = part.outputs[0].number
    assert judge_off(part, pin, Quantity(1e-6, 3e-6, "A"), True) is None
    assert judge_off(part, pin, Quantity(50e-6, 3e-6, "A"), True).outcome is Outcome.BEYOND


def test_the_record_has_currents_positive_into_the_pin_and_sag_positive_when_worse():
    (sink,) = load_readings(line(6, {"strong": (16.1, 0.219)}, unloaded=0.038))
    (source,) = load_readings(line(6, {"weak": (0.43, 3.52)}, up=False, unloaded=4.55))
    assert sink.amperes.value > 0 > source.amperes.value
    assert sink.sag == pytest.approx(0.181) and source.sag == pytest.approx(1.03)


def test_a_level_read_at_the_rated_current_itself_is_not_overruled_by_its_neighbours():
    """Seen with a sound 74L03: 0.33 V read at 3.6 mA, 0.46 V worked out from points at 0.56 and 7 mA."""
    part = load_part("74L00")
    apart = {"trickle": (0.048, 0.30), "weak": (0.56, 0.36), "medium": (7.0, 0.815)}
    bent = apart | {"exact": (3.58, 0.335)}
    assert vol(part, bent).outcome in (Outcome.UNSURE, Outcome.WITHIN)
    assert vol(part, apart | {"exact": (3.58, 0.47)}).outcome is Outcome.BEYOND


@pytest.mark.parametrize(("volts", "supply", "expected"), [(2.35, 5.0, Outcome.BEYOND), (2.35, 4.60, Outcome.WITHIN), (2.20, 4.60, Outcome.BEYOND)])
def test_a_high_level_is_asked_for_at_the_supply_that_the_data_book_has(volts, supply, expected):
    """VOH of a 74 part is 2.4 V at 4.75 V or more (TI, The TTL Data Book, recommended operating conditions); 0.15 V less of supply is 0.15 V less of level."""
    voh = TTL.limits[6].voh[0]
    high = Line(6, False, (Point("medium", uncertain(volts + 0.1, 0.005), uncertain(0.3e-3, 1e-6)), Point("strong", uncertain(volts, 0.005), uncertain(0.4e-3, 1e-6))))
    assert judge_rated(TTL, high, voh, uncertain(supply, 0.005), True).outcome is expected


def test_a_level_lost_at_more_than_the_rated_current_proves_nothing():
    high = Line(6, True, (Point("strong", uncertain(0.47, 0.002), uncertain(20e-3, 1e-5)),))
    assert judge_rated(TTL, high, Rated("VOL", 0.016, Limit(0.4, "memory")), None, True).outcome is not Outcome.BEYOND


def test_of_several_points_surely_beyond_the_least_bad_is_the_proof():
    """Low: the lowest level that is too high; high: the highest that is too low.  No harder than rated, all of them."""
    low = _Scale(0.4, "max", exact(0.0), 16e-3).proof(line(6, {"weak": (0.56, 0.9), "medium": (8.3, 0.7), "strong": (15.9, 1.4), "both": (17, 0.5)}))
    assert low.name == "medium"
    high = _Scale(2.4, "min", exact(0.0), 0.4e-3)
    assert high.proof(line(6, {"trickle": (0.05, 1.6), "weak": (0.2, 1.9), "medium": (0.39, 1.2)}, up=False)).name == "weak"
    assert high.proof(line(6, {"weak": (0.2, 2.39), "medium": (0.39, 2.5)}, up=False, u=0.02)) is None      # not surely
    assert high.proof(line(6, {"weak": (0.2, 1.0)}, up=False, u=0.06)) is None                             # its own volts are in doubt
