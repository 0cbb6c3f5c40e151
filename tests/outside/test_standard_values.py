"""The parts of the fixture can be bought: every resistor is an E24 value, every capacitor an E6 one.

Outside reference: IEC 60063, preferred number series, as the PyPI package `eseries` gives them.
SPDX-License-Identifier: MIT
"""
import eseries
import pytest

from hardware.wiring import load

PARTS = load()["part"]


def on_series(series, value):
    """True if the value is a member of the series, in any decade."""
    return abs(eseries.find_nearest(series, value) / value - 1) < 1e-9


@pytest.mark.parametrize("ref,ohm", [(p["ref"], p["ohm"]) for p in PARTS if p["kind"] == "resistor"])
def test_a_resistor_is_an_e24_value(ref, ohm):
    assert on_series(eseries.E24, ohm), f"{ref}: {ohm} ohm is not in E24"


@pytest.mark.parametrize("ref,nf", [(p["ref"], p["nf"]) for p in PARTS if p["kind"] == "capacitor"])
def test_a_capacitor_is_an_e6_value(ref, nf):
    assert on_series(eseries.E6, nf), f"{ref}: {nf} nF is not in E6"


def test_the_check_would_catch_a_value_off_the_series():
    assert not on_series(eseries.E24, 280)
