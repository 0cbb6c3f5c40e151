"""What is said of a monostable's pulse.

Worked by hand: R = 100 kohm, C = 145 pF: RC = 14.5 us. The 74LS123's 0.33 to 0.45 RC are 4.8 to 6.5 us, so a pulse passes from
1.6 to 19.6 us. The plain 74123 with 8.2 kohm: 0.28 RC = 0.33 us, and a third of that no fixture of this kind sees.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from sagbench.judge.pulses import judge_pulse
from sagbench.measure.inputs import Figure
from sagbench.measure.model import Model
from sagbench.measure.pulses import BLIND_S, Timed, capacitance, prolonged, timed
from sagbench.measure.uncertain import standard, uncertain, value
from sagbench.parts import load_part
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Reading, Readings
from sagbench.record import Outcome, Quantity

FIXTURE = load_fixture("bench24")
LS, TTL, CMOS, FLOATING = (load_part(name) for name in ("74LS123", "74123", "74HC123", "74121"))


def found(part, us, u=None, *, ohm=100e3, seen=8, **more):
    """Timed as the first way to trigger would give it; us: the width, 0 for none."""
    figure = Figure(uncertain(us * 1e-6, (us / 4 if u is None else u / 2) * 1e-6, "stray capacitance"), Quantity(ohm, 0.0, "ohm"), "") if us else None
    return Timed(part.pulses[0], ohm, 145e-12, seen, us * 1e-6, figure, **more)


def said(part, timing):
    return judge_pulse(part, part.pulses[0], timing)


@pytest.mark.parametrize("us,u,outcome,words", [
    (6.5, 3.2, Outcome.WITHIN, "lasted 6.5 µs ± 3.2"),
    (13.0, 6.5, Outcome.WITHIN, "4.8 to 6.5 µs for 100 kΩ"),
    (19.5, 9.7, Outcome.UNSURE, "too near three times"),
    (45.0, 22.0, Outcome.BEYOND, "more than three times"),
    (1.8, 0.9, Outcome.UNSURE, "too near a third"),
    (0.7, 0.4, Outcome.BEYOND, "less than a third"),
])
def test_length(us, u, outcome, words):
    (finding,) = said(LS, found(LS, us, u))
    assert finding.outcome is outcome and words in finding.sentence
    assert "pin 13 (1Q), triggered by pin 2 (1B) going high" in finding.sentence
    assert finding.value.unit == "s" and finding.pin == 13 and (finding.weight > 0) == (outcome is Outcome.BEYOND)
    bound = {"max": 19.6e-6, "min": 1.6e-6}[finding.limit_kind]
    assert finding.limit == pytest.approx(bound, rel=0.01)
    assert (finding.margin < 0) == (us > 19.6 or us < 1.6)


def test_no_pulse_is_a_fault_only_where_one_would_have_been_seen():
    (dead,) = said(LS, found(LS, 0, seen=0))
    assert dead.outcome is Outcome.BEYOND and "does not fire" in dead.sentence and dead.weight
    for part, ohm in ((TTL, 8.4e3), (FLOATING, 8.4e3)):
        (hidden,) = said(part, found(part, 0, ohm=ohm, seen=0))
        assert hidden.outcome is Outcome.NOT_MEASURED and not hidden.weight
        assert f"shorter than {BLIND_S * 1e6:.2g} µs" in hidden.sentence


def test_a_short_pulse_is_not_called_too_short_where_the_fixture_cannot_tell():
    (finding,) = said(TTL, found(TTL, 0.25, 0.2, ohm=8.4e3))
    assert finding.outcome is Outcome.WITHIN and finding.limit_kind == "max"


@pytest.mark.parametrize("more,words", [
    ({"endless": True}, "does not end within 30 ms"), ({"untriggered": True}, "before anything had triggered it")])
def test_what_needs_no_length(more, words):
    for part in (LS, TTL, FLOATING):
        (finding,) = said(part, found(part, 0, **more))
        assert finding.outcome is Outcome.BEYOND and words in finding.sentence and finding.weight > 70


def test_not_followed_to_its_end():
    (finding,) = said(LS, Timed(LS.pulses[0], 100e3, 145e-12, 8, 850e-6, None))
    assert finding.outcome is Outcome.BEYOND and "more than 0.8 ms" in finding.sentence


def test_now_and_then():
    """Six of eight, some 5 us each: two were missed, not overlooked; of pulses of 0.3 us some are."""
    (finding,) = said(LS, found(LS, 5.0, seen=6))
    assert finding.outcome is Outcome.BEYOND and "only 6 of 8 times" in finding.sentence
    (short,) = said(TTL, found(TTL, 0.3, 0.2, ohm=8.4e3, seen=3))
    assert short.outcome is Outcome.WITHIN


@pytest.mark.parametrize("part,share,outcome", [
    (LS, 1.0, None), (LS, 0.4, None), (LS, 0.0, "does not prolong"), (FLOATING, 0.0, None), (FLOATING, 1.0, "as it should not")])
def test_second_trigger(part, share, outcome):
    """What lies between says nothing: a second trigger that comes early may be ignored."""
    findings = said(part, found(part, 6.5, prolonged=share))
    assert len(findings) == (1 if outcome is None else 2)
    if outcome:
        assert findings[1].outcome is Outcome.ODD and outcome in findings[1].sentence


def test_a_pulse_without_its_capacitor_has_no_length_to_judge():
    (quick,) = said(FLOATING, found(FLOATING, 0.5, 0.2))
    assert quick.outcome is Outcome.WITHIN and quick.limit is None and "between two pins" in quick.sentence
    (slow,) = said(FLOATING, found(FLOATING, 60, 20))
    assert slow.outcome is Outcome.ODD


def test_nothing_measured_is_no_pass():
    (finding,) = judge_pulse(LS, LS.pulses[0], None)
    assert finding.outcome is Outcome.NOT_MEASURED


# ------------------------------------------------------------------ measure
def readings(length, seen, more="", cleared=(0, 0), ready=(0, 0)):
    words = [Reading(Mark("lines", label=f"pulse {state}{more}"), total)
             for state, pair in (("cleared", cleared), ("ready", ready)) for total in pair]
    return Readings((*words, Reading(Mark("length", label="pulse" + more), length), Reading(Mark("count", label="pulses seen" + more), seen)))


def measured(length, seen, **more):
    model = Model(FIXTURE)
    model.learn_rail(Reading(Mark("vref"), 512))
    return timed(model, CMOS.pulses[0], FIXTURE.point("trickle"), readings(length, seen, **more), (23, 21))


def test_width_from_clocks_of_a_sixteenth_microsecond():
    """160 clocks are 10 us, and 0.23 us pass before the first look; half of U comes from the capacitance, which is 145 pF +- 50 %."""
    one = measured(160, 8)
    assert value(one.width.number) == pytest.approx(10.23e-6, rel=1e-3)
    assert 2 * standard(one.width.number) == pytest.approx(0.5 * 10.23e-6, rel=0.03)
    assert one.ohm == pytest.approx(100.2e3, rel=0.005) and one.nominal_rc == pytest.approx(14.5e-6, rel=0.01)
    stray = FIXTURE.raw["capacitance_pf"]
    assert value(capacitance(Model(FIXTURE))) == pytest.approx((stray["position_pf"] + stray["node_k_pf"]) * 1e-12)


def test_what_the_firmware_says_instead_of_a_length():
    assert measured(0xFFFE, 0).endless and measured(0xFFFE, 0).width is None
    assert measured(0, 0).width is None and not measured(0, 0).endless
    assert measured(13600, 8).long and measured(13600, 8).width is None
    assert timed(Model(FIXTURE), CMOS.pulses[0], FIXTURE.point("trickle"), readings(None, None), (23, 21)) is None


def test_an_output_that_has_left_its_rest_level():
    """Position 21 is bit 8 of the second word."""
    assert measured(160, 8, cleared=(0, 0), ready=(0, 1 << 8)).untriggered
    assert not measured(160, 8, cleared=(0, 1 << 8), ready=(0, 1 << 8)).untriggered
    assert not measured(160, 8, cleared=(0, None), ready=(0, 1 << 8)).untriggered


def test_how_much_a_second_trigger_adds():
    """12 looks of half a microsecond after the first: 6 us longer is all of it."""
    first = replace(found(LS, 10.0), length=10e-6)
    assert prolonged(first, 12, readings(256, 8, " again")) == pytest.approx(1.0)
    assert prolonged(first, 12, readings(160, 8, " again")) == pytest.approx(0.0)
    assert prolonged(first, 12, readings(0xFFFE, 8, " again")) is None
    assert prolonged(first, 12, readings(160, 5, " again")) is None
