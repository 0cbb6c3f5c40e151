"""A chip that warms on paper: what comes and goes, what moves, when it ends.

SPDX-License-Identifier: MIT
"""

import argparse
import math
import random
import re
from dataclasses import replace

import pytest
from host.report import examples

from sagbench.cli.soak import seconds, share
from sagbench.cli.soak_bench import _moved
from sagbench.record import Finding, Measured, Outcome, PinRecord, Quantity, Verdict
from sagbench.soak.course import Course, span
from sagbench.soak.page import to_html
from sagbench.soak.run import Bounds, Ended, soak

SOUND = examples.sound_inverter()
OUT = next(pin.pin for pin in SOUND.pins if pin.loads)


def at(ohm, broken=False):
    """A sweep in which one output has so many ohms."""
    def of(pin):
        if pin.pin != OUT:
            return pin
        findings = (Finding("logic", Outcome.BEYOND, "it answers wrongly", OUT),) if broken else ()
        return replace(pin, measured=(Measured("ROL", OUT, Quantity(ohm, 0.4, "ohm"), Quantity(0.016, 1e-4, "A")),), findings=findings)
    return replace(SOUND, pins=tuple(map(of, SOUND.pins)), verdict=Verdict.FAILED if broken else Verdict.SOUND)


class Clock:
    """A clock of paper; a sweep takes 1.3 s."""

    def __init__(self, sweeps):
        self.t, self.sweeps = 100.0, iter(sweeps)

    def now(self):
        return self.t

    def rest(self, s):
        self.t += s

    def measure(self):
        self.t += 1.3
        found = next(self.sweeps)
        if isinstance(found, BaseException):
            raise found
        return found


def soaked(sweeps, every=0.0, **bounds):
    clock = Clock(sweeps)
    told = []
    course, ended = soak(clock.measure, clock.now, clock.rest, Bounds(**{"seconds": 1e9, **bounds}), every, lambda c: told.append(len(c.samples)))
    assert told == list(range(1, len(course.samples) + 1))
    return course, ended


def test_a_fault_that_comes_and_goes():
    course, ended = soaked([at(10), at(10), at(10, True), at(10), KeyboardInterrupt()])
    (fault,) = course.intermittents()
    assert (fault.what, fault.times, fault.of, fault.first_s) == (f"logic of pin {OUT}", 1, 4, pytest.approx(2.6))
    assert course.worst is Verdict.FAILED and ended is Ended.USER


def test_a_fault_that_is_always_there_does_not_come_and_go():
    assert soaked([at(10, True), at(10, True), KeyboardInterrupt()])[0].intermittents() == []


def test_the_sweep_that_the_user_cuts_off_is_no_fault_of_the_chip():
    cut = replace(SOUND, verdict=Verdict.INCOMPLETE, partial="interrupted by the user")
    course, ended = soaked([at(10), at(10), cut])
    assert (course.worst, len(course.samples), course.intermittents(), ended) == (Verdict.SOUND, 2, [], Ended.USER)
    assert soaked([cut])[0].samples == []
    course, ended = soaked([at(10), replace(cut, verdict=Verdict.FAILED)])
    assert course.worst is Verdict.FAILED and ended is Ended.USER


def test_what_moves_by_more_than_its_uncertainty():
    course, _ = soaked([*(at(10 + n / 10) for n in range(12)), KeyboardInterrupt()])
    (drift,) = course.drifts()
    assert drift.key == ("ROL", OUT, "") and (drift.first.value, drift.least) == (10, 10)
    assert drift.last.value == drift.most == pytest.approx(11.1)
    assert soaked([at(10), at(10.3), KeyboardInterrupt()])[0].drifts() == []


def noisy(draw, of_chance, moved=0.0):
    """A sweep with a figure at each of fifty pins: U of 0.4, so much of it chance; the first pin's has moved by so much."""
    pins = tuple(PinRecord(n, f"P{n}", "output", n, measured=(Measured("ROL", n, Quantity(10 + draw.gauss(0, of_chance) + moved * (n == 1), 0.4, "ohm")),))
                 for n in range(1, 51))  # fmt: skip
    return replace(SOUND, pins=pins, supply=())


def test_what_chance_does_in_many_sweeps_is_no_drift():
    """U of 0.4 at k = 2 is a standard deviation of 0.2: the extremes of 300 sweeps lie farther apart than U of both of them."""
    draw = random.Random(3)
    course = Course()
    for n in range(300):
        course.add(n, noisy(draw, 0.2))
    assert [d.key for d in course.drifts()] == [] and max(d.times for d in course.drifts(0.0)) > 1.5


def test_a_slow_drift_is_seen_where_little_of_the_uncertainty_is_chance():
    draw = random.Random(3)
    course = Course()
    for n in range(300):
        course.add(n, noisy(draw, 0.02, 0.8 * n / 300))
    assert [d.key[:2] for d in course.drifts()] == [("ROL", 1)]


def test_a_figure_that_falls_down_for_a_while_is_seen():
    course = Course()
    for n in range(60):
        course.add(n, at(10 if n // 10 % 3 else 30))
    (drift,) = course.drifts()
    assert (drift.least, drift.most) == (10, 30)
    assert ", between 10 Ω and 30 Ω" in _moved(replace(drift, first=drift.last))


def test_it_ends_in_time_by_fault_or_by_drift():
    assert [s.seconds for s in soaked([at(10)] * 99, seconds=10, every=3)[0].samples] == pytest.approx([0, 3, 6, 9])
    assert soaked([at(10)] * 99, seconds=5)[1] is Ended.TIME
    course, ended = soaked([at(10), at(10, True), at(10)], at_fault=True)
    assert ended is Ended.FAULT and len(course.samples) == 2
    course, ended = soaked([at(10 + n) for n in range(9)], drift=0.25)
    assert ended is Ended.DRIFT and course.last.pins[OUT - 1].measured[0].value.value == 13


def test_a_chip_bad_from_the_beginning_stops_at_a_further_fault_only():
    bad = replace(at(10, True), supply=tuple(replace(f, outcome=Outcome.BEYOND) for f in SOUND.supply))
    course, ended = soaked([at(10, True)] * 5 + [bad] + [at(10)], at_fault=True)
    assert ended is Ended.FAULT and len(course.samples) == 6


@pytest.mark.parametrize(("text", "value"), [("90", 90), ("90s", 90), ("10m", 600), ("1.5h", 5400), ("2min", 120)])
def test_times(text, value):
    assert seconds(text) == value


@pytest.mark.parametrize("text", ["", "soon", "-5", "0", "1e9", "999h", "5d"])
def test_no_times(text):
    with pytest.raises(argparse.ArgumentTypeError, match="10m"):
        seconds(text)


def test_shares():
    assert share("10%") == share("0.1") == pytest.approx(0.1)
    with pytest.raises(argparse.ArgumentTypeError):
        share("much")
    with pytest.raises(argparse.ArgumentTypeError, match="would be 1000 %; give such as 10%"):
        share("10")


def test_the_page_plots_what_moved_and_escapes_what_it_is_given():
    course = Course()
    for n in range(60):
        course.add(n * 5.0, replace(at(10 + 1.5 * (1 - math.exp(-n / 20)), broken=n == 31), part="<b>74LS04"))
    page = to_html(course, Ended.TIME)
    assert "<b>" not in page and page.count("<svg") == 1 and f"logic of pin {OUT}" in page
    xs, ys = zip(*[map(float, p.split(",")) for p in re.search(r'polyline points="([^"]+)"', page)[1].split()], strict=True)
    assert list(xs) == sorted(xs) and list(ys) == sorted(ys, reverse=True) and len(xs) == 60
    assert 0 <= min(ys) and max(ys) <= 160 and max(xs) <= 640


def test_no_line_goes_through_sweeps_that_have_not_the_figure():
    course = Course()
    for n in range(9):
        course.add(n, replace(SOUND, pins=(), partial="not seated", advice="No verdict: seat it.") if n in (4, 5) else at(10 + n))
    page = to_html(course, Ended.TIME)
    assert [len(p.split()) for p in re.findall(r'polyline points="([^"]+)"', page)][:2] == [4, 3] and page.count('class="band"') == page.count("<polyline")


@pytest.mark.parametrize(("seconds", "told"), [(2.4, "2 s"), (90, "90 s"), (600, "10 min"), (7200, "120 min")])
def test_a_time_is_told_as_one_says_it(seconds, told):
    assert span(seconds) == told
