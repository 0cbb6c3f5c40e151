# SPDX-License-Identifier: MIT
"""Fan-out and pull-ups against published examples.  Each names its source.

LS_UL: Motorola, FAST and LS TTL data: an LS output is rated 10 unit loads high, 5 low; 1 unit load is 40 uA, 1.6 mA.
FLOYD: Floyd, Digital Fundamentals, chapter "Integrated circuit technologies": table 8-7 of TTL current ratings as reproduced at
  transtutors.com/questions/...-669921; example 15-6 (wired AND) at fliphtml5.com/vvkpg/fauf/Digital/878.
EXERCISE: transtutors.com/questions/...-13712948: IOH 0.4, IOL 16, IIH 0.04, IIL 1.6 mA (74) and 1, 20, 0.02, 0.6 mA (74F).
QUIZ: curioustab.com, "how many 74LS inputs ... one 74 gate" (20), "standard TTL high output can source 400 uA to 10 inputs".
HANDBOOK: a Polish handbook of TTL, table 4.4, bounds of a pull-up for n outputs and N inputs, at zanotowane.pl/706/7995.
The rest is common practice: the ratio of two data-book limits.
"""
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sagbench.parts import Limit, Rated, Role, load_part
from sagbench.replace.connect import Load, PullUp, balances, fan_out, pull_up

MILLI, MICRO = 1e-3, 1e-6

PUBLISHED = [
    ("7400", "7400", 10, "EXERCISE, QUIZ"),
    ("7400", "74LS00", 20, "QUIZ"),
    ("74LS00", "7400", 5, "LS_UL"),
    ("74LS00", "74LS00", 20, "FLOYD table 8-7"),
    ("74F00", "74F00", 33, "EXERCISE"),
    ("7400", "74F00", 20, "EXERCISE"),
    ("74F00", "7400", 12, "EXERCISE"),
    ("74S00", "74S00", 10, "FLOYD table 8-7"),
    ("74AS00", "74AS00", 40, "FLOYD table 8-7"),
    ("74ALS00", "74ALS00", 20, "FLOYD table 8-7"),
    ("74LS00", "74S00", 4, "FLOYD table 8-7"),
    ("74S00", "74LS00", 50, "FLOYD table 8-7"),
    ("7400", "74S00", 8, "FLOYD table 8-7"),
    ("74S00", "7400", 12, "FLOYD table 8-7"),
    ("74ALS00", "7400", 5, "FLOYD table 8-7"),
    ("74AS00", "74F00", 33, "FLOYD table 8-7"),
    ("74H00", "74H00", 10, "common practice"),
    ("74L00", "74L00", 20, "common practice"),
    ("74L00", "7400", 2, "common practice"),
    ("7440", "7400", 30, "common practice: the buffer's fan-out of 30"),
]


def limits_of(name, output):
    part = load_part(name)
    return part.limits[(part.outputs if output else part.inputs)[0].number]


@pytest.mark.parametrize(("driver", "driven", "number", "source"), PUBLISHED)
def test_fan_out_is_the_published_one(driver, driven, number, source):
    assert fan_out(limits_of(driver, True), limits_of(driven, False)) == number, source


@pytest.mark.parametrize(("driver", "driven", "number", "source"), PUBLISHED)
def test_the_balance_of_a_line_turns_at_the_fan_out(driver, driven, number, source):
    part, load = load_part(driver), load_part(driven)

    def fits(count):
        made = balances(Role.OUTPUT, limits_of(driver, True), [Load("", count, load, load.inputs[0])])
        return all(b.strong and b.level for b in made)
    assert part.outputs[0].role is Role.OUTPUT
    assert fits(number) and not fits(number + 1), source


def test_an_ls_gate_is_rated_ten_unit_loads_high_and_five_low():
    """LS_UL."""
    rated = limits_of("74LS00", True)
    assert rated.vol[-1].amperes / (1.6 * MILLI) == pytest.approx(5)
    assert -rated.voh[-1].amperes / (40 * MICRO) == pytest.approx(10)


def test_cmos_and_ttl_do_not_add_up_by_current_alone():
    """Common practice: TTL high levels are too low for HC inputs; a 4000B output drives one LS input and no standard one."""
    assert fan_out(limits_of("74LS00", True), limits_of("74HC00", False)) == 0
    assert fan_out(limits_of("74LS00", True), limits_of("74HCT00", False)) > 1000
    assert fan_out(limits_of("74HC00", True), limits_of("74LS00", False)) == 10
    assert fan_out(limits_of("4011", True), limits_of("74LS00", False)) == 1
    assert fan_out(limits_of("4011", True), limits_of("7400", False)) == 0


# n outputs, N inputs -> R at most: HANDBOOK, table 4.4 (5 V, 2.4 V, 250 uA, 40 uA; 0.4 V, 16 mA, 1.6 mA).
HANDBOOK_MOST = {1: [8965, 4814, 3291, 2500, 2015, 1688, 1452], 2: [7878, 4482, 3132, 2407, 1954, 1645, 1420],
                 3: [7027, 4193, 2988, 2321, 1897, 1604, 1390], 4: [6341, 3939, 2857, 2241, 1843, 1566, 1361],
                 5: [5777, 3714, 2736, 2166, 1793, 1529, 1333], 6: [5306, 3513, 2626, 2096, 1744, 1494, 1306]}
HANDBOOK_LEAST = {1: 319, 2: 359, 3: 410, 4: 479, 5: 575, 6: 718}


def wired(outputs, inputs, reads=2.4):
    """Loads of one 7401 output on a line with others and inputs of 7400s, which here ask for 2.4 V as the book does."""
    gate, other = load_part("7400"), load_part("7401")
    asks = {n: replace(limits, vih=Limit(reads, "HANDBOOK", "min")) for n, limits in gate.limits.items()}
    gate = replace(gate, limits=asks)
    shared = [Load("", outputs - 1, other, other.outputs[0])] if outputs > 1 else []
    return [*shared, Load("", inputs, gate, gate.inputs[0])]


@pytest.mark.parametrize("inputs", HANDBOOK_MOST)
def test_the_bounds_of_a_pull_up_are_the_handbooks(inputs):
    for outputs, most in enumerate(HANDBOOK_MOST[inputs], start=1):
        bounds = pull_up(limits_of("7401", True), wired(outputs, inputs), 5.0, 5.0)
        assert bounds.most == pytest.approx(most, rel=1e-3), (outputs, inputs)
        assert bounds.least == pytest.approx(HANDBOOK_LEAST[inputs], rel=3e-3), (outputs, inputs)


def test_the_usual_value_is_of_the_series_and_between_the_bounds():
    """IEC 60063, E12.  410 ohm to 2321 ohm: the middle is 976, so 1 kohm; 200 to 210 ohm holds none."""
    assert pull_up(limits_of("7401", True), wired(4, 3), 5.0, 5.0).usual == pytest.approx(1000)
    assert PullUp(200.0, 210.0).usual is None and PullUp(2.0, 1.0).usual is None


def test_the_wired_and_of_the_textbook():
    """FLOYD, example 15-6: three outputs of 30 mA at 0.4 V drive four standard inputs: at least 195 ohm."""
    strong = replace(limits_of("7401", True), vol=(Rated("VOL", 30 * MILLI, Limit(0.4, "FLOYD")),))
    assert pull_up(strong, wired(3, 4), 5.0, 5.0).least == pytest.approx(195, abs=0.5)


@settings(deadline=None)
@given(count=st.integers(1, 60), other=st.integers(0, 60), driver=st.sampled_from(["7400", "74LS00", "74S00", "74ALS00", "74F00"]),
       driven=st.sampled_from(["7404", "74LS04", "74S04", "74F04"]), second=st.sampled_from(["74H00", "74L00", "74LS00"]))
def test_a_balance_is_the_sum_of_its_loads_and_more_load_never_helps(count, other, driver, driven, second):
    one, two = load_part(driven), load_part(second)
    loads = [Load("", count, one, one.inputs[0]), *([Load("", other, two, two.inputs[0])] if other else [])]
    made = balances(Role.OUTPUT, limits_of(driver, True), loads)
    low = count * abs(one.limits[1].iil.value) + other * abs(two.limits[1].iil.value)
    high = count * one.limits[1].iih.value + other * two.limits[1].iih.value
    assert made[0].need == pytest.approx(low) and made[1].need == pytest.approx(high)
    more = balances(Role.OUTPUT, limits_of(driver, True), [*loads, Load("", 1, one, one.inputs[0])])
    for before, after in zip(made, more, strict=True):
        assert before.strong or not after.strong
        assert after.margin <= before.margin or not after.strong


def test_a_pull_up_makes_the_high_level_that_ohms_law_says():
    """74LS05 with 2.2 kohm and five 74LS04: VCC - R x (100 uA + 5 x 20 uA), computed by hand at 4.5 V: 4.06 V."""
    inverter = load_part("74LS04")
    loads = [Load("5x", 5, inverter, inverter.inputs[0]), Load("2k2 up", ohms=2200.0)]
    low, high = balances(Role.OPEN_COLLECTOR, limits_of("74LS05", True), loads)
    assert high.volts == pytest.approx(4.06) and high.level
    assert low.need == pytest.approx(5 * 0.4 * MILLI + (5.5 - low.volts) / 2200)


@settings(deadline=None)
@given(ohms=st.floats(100, 1e6), count=st.integers(1, 20))
def test_a_pull_up_suffices_just_between_its_bounds(ohms, count):
    inverter = load_part("74LS04")
    limits = limits_of("74LS05", True)
    inputs = [Load("", count, inverter, inverter.inputs[0])]
    bounds = pull_up(limits, inputs)
    made = balances(Role.OPEN_COLLECTOR, limits, [*inputs, Load("", ohms=ohms)])
    good = all(b.strong and b.level for b in made)
    assert good == (bounds.least * (1 - 1e-7) <= ohms <= bounds.most * (1 + 1e-7))
