"""A load line whose heaviest points have one current: an output that gives no more (seen at a 74F part).

SPDX-License-Identifier: MIT
"""

from sagbench.measure.bend import _ohms
from sagbench.measure.line import Point
from sagbench.measure.uncertain import uncertain


def test_two_points_of_one_current_are_a_great_many_ohms_and_no_error():
    a, b = (Point(name, uncertain(v, 0.01), uncertain(5e-3, 1e-5)) for name, v in (("medium", 1.0), ("strong", 0.5)))
    assert _ohms(a, b) > 1e6
