# SPDX-License-Identifier: MIT
"""Numbers as printed.

Outside references:
  PDG    Particle Data Group, Review of Particle Physics, introduction, "Rounding":
         0.827 +- 0.119 is to appear as 0.83 +- 0.12, 0.827 +- 0.367 as 0.8 +- 0.4 (quoted from memory)
  GUM    JCGM 100:2008, 7.2.6: uncertainties to at most two significant digits, 7.2.6 example:
         10.057 62 ohm with 27 mohm is 10.058 ohm (from memory)
"""
import math
import re

import pytest
from hypothesis import given, strategies as st

from sagbench.record import Quantity
from sagbench.report import figures


@pytest.mark.parametrize("value, u, expected", [
    (0.827, 0.119, ("0.83", "0.12")),                   # PDG
    (0.827, 0.367, ("0.8", "0.4")),                     # PDG
    (10.05762, 0.027, ("10.058", "0.027")),             # GUM
    (1.0, 0.0951, ("1.00", "0.10")),                    # PDG: 950..999 rounds up and keeps two digits
    (1.0, 0.0354, ("1.000", "0.035")),
    (1.0, 0.0355, ("1.00", "0.04")),
    (12345.0, 230.0, ("12340", "230")),                 # tens: no false digits (ties to even)
    (-0.0001, 0.01, ("0.000", "0.010")),                # never "-0.000"
])
def test_value_and_uncertainty_end_at_the_same_place(value, u, expected):
    assert figures.scaled(Quantity(value, u, "V"), "") == expected


@pytest.mark.parametrize("quantity, text", [
    (Quantity(0.31234, 0.0138, "V"), "0.312 V ± 0.014 V"),
    (Quantity(0.0212, 0.0042, "V"), "21 mV ± 4 mV"),
    (Quantity(4.94e-3, 0.62e-3, "A"), "4.9 mA ± 0.6 mA"),
    (Quantity(-0.41e-3, 8e-6, "A"), "-410 µA ± 8 µA"),
    (Quantity(14.02, 0.9, "ohm"), "14.0 Ω ± 0.9 Ω"),
    (Quantity(1234.0, 50.0, "ohm"), "1.23 kΩ ± 0.05 kΩ"),
    (Quantity(0.0001, 0.005, "A"), "0 mA ± 5 mA"),      # the larger of the two chooses the prefix
    (Quantity(1.25, 0.0, "V"), "1.25 V"),               # exact: no ± 0
    (Quantity(1.25, math.inf, "V"), "1.25 V, uncertainty unknown"),
    (Quantity(math.nan, 0.1, "V"), "unknown"),
    (None, "not measured"),
])
def test_a_figure_in_full(quantity, text):
    assert figures.figure(quantity) == text


@pytest.mark.parametrize("value, unit, text", [
    (0.5, "V", "0.5 V"), (2.7, "V", "2.7 V"), (-0.0004, "A", "-400 µA"), (0.016, "A", "16 mA"),
    (0.08, "V", "80 mV"), (0.0, "V", "0 V"), (999.9e-6, "A", "0.9999 mA"), (1e6, "ohm", "1 MΩ"),
    (math.inf, "ohm", "unknown"),
])
def test_limits_are_written_as_in_a_data_book(value, unit, text):
    assert figures.amount(value, unit) == text


def test_a_column_has_one_prefix():
    column = [Quantity(0.0042, 1e-4, "A"), Quantity(0.000031, 1e-6, "A")]
    assert figures.common_prefix(column) == "m"
    assert [figures.figure(q, "m") for q in column] == ["4.20 mA ± 0.10 mA", "0.0310 mA ± 0.0010 mA"]


def test_a_margin_has_a_sign_and_the_places_of_its_quantity():
    like = Quantity(0.3, 0.0138, "V")
    assert figures.signed(0.1876, like, "") == "+0.188"
    assert figures.signed(-0.27, like, "") == "-0.270"
    assert figures.signed(0.0001, like, "") == "0.000"


@given(st.floats(min_value=-1e3, max_value=1e3), st.floats(min_value=1e-9, max_value=1e2))
def test_what_is_printed_is_the_value_within_half_a_place_and_hides_no_uncertainty(value, u):
    shown, shown_u = figures.scaled(Quantity(value, u, "V"), "")
    assert re.fullmatch(r"-?\d+(\.\d+)?", shown)
    assert float(shown_u) == pytest.approx(u, rel=0.13)             # one digit, 0.355 shown as 0.4: 12.7 % off at most
    assert abs(float(shown) - value) <= 0.15 * u * 1.0001           # half a place of the shown uncertainty
    assert len(shown_u.replace(".", "").strip("0")) <= 2
