"""A part on which no input acts: nothing can be moved, and nothing is tried.

SPDX-License-Identifier: MIT
"""

import random
from types import SimpleNamespace

from sagbench.vectors.moves import Rules


def test_no_moves_where_there_is_no_input():
    """As in a draft of a part none of whose outputs was reached but those that never change."""
    bare = SimpleNamespace(control=(), data=(), shared=(), neutral=(), turners=set())
    bare._some = lambda rng: Rules._some(bare, rng)
    assert [Rules.moves(bare, random.Random(seed)) for seed in range(4)] == [[]] * 4
