"""What a sweep tells of gates made of SPICE's transistors is what SPICE says of them (ngspice 39, Debian).

Sound, gain lost, series resistance.  A figure may be off by its own U, and by what SPICE's tables of straight lines and
the supply's rounding to 10 mV leave: 3 mV, 10 mV for VOH which follows the supply, 1 % of a current.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest
from swept_gates import CASES, OUTPUT, Swept, swept

from sagbench.record import Outcome, Verdict

TABLES = {"VOL": 3e-3, "VOH": 10e-3, "VT+": 3e-3}
SHARE = 0.01


@pytest.fixture(scope="module", params=CASES, ids=["sound", "gain lost", "series resistance"])
def case(request: pytest.FixtureRequest) -> tuple[tuple[str, int, float], Swept]:
    return request.param, swept(*request.param)


def test_each_figure_is_spices_within_its_uncertainty(case: tuple[tuple[str, int, float], Swept]) -> None:
    (_, beta, _), made = case
    assert set(made.figures) >= {"VOH", "IIL", "IOS", "VT+", "ICC low", "ICC high"} and ("VOL" in made.figures) == (beta == 40)
    for name, (told, spice) in made.figures.items():
        assert abs(told.value - spice) <= told.u + TABLES.get(name, SHARE * abs(spice)), (name, told.value, told.u, spice)


def test_the_sound_one_is_sound_and_the_others_fail_at_vol(case: tuple[tuple[str, int, float], Swept]) -> None:
    (_, beta, ohms), made = case
    sound = beta == 40 and not ohms
    assert made.record.verdict is (Verdict.SOUND if sound else Verdict.FAILED)
    beyond = {f.quantity for p in made.record.pins if p.pin == OUTPUT for f in p.findings if f.outcome is Outcome.BEYOND}
    assert ("VOL" in beyond) is not sound
