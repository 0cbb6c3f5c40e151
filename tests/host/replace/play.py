# SPDX-License-Identifier: MIT
"""Two parts played through side by side, with the machine that runs one step after the other: the comparison of `alike` looks
at tables and knows no sequences."""
import random

from sagbench.parts import Role
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect


def same_play(match, seed, steps):
    """Both parts through random levels: where the one's outputs are known, the other's are the same."""
    chance = random.Random(seed)
    one, other = Machine(Network(match.one.definition)), Machine(Network(match.other.definition))
    levels = {name: chance.random() < 0.5 for name in match.one.network.inputs}
    for _ in range(steps):
        one.set({name: driven(match, name, level) for name, level in levels.items()})
        other.set({match.pairing[name]: driven(match, name, level) for name, level in levels.items()})
        for name in match.one.outputs:
            mine, yours = one.expect(name), other.expect(match.pairing[name])
            if mine is not None and high_if_off(match, mine) != high_if_off(match, yours):
                return False
        for name in chance.sample(sorted(levels), 1):
            levels[name] = not levels[name]
    return True


def driven(match, name, level):
    """A bidirectional pin is left alone, so that it may drive."""
    return None if match.one.definition.roles[name] is Role.BIDIRECTIONAL else level


def high_if_off(match, expect):
    """A collector that is open counts as high, as a pull-up would make it."""
    stages = {*match.one.definition.roles.values(), *match.other.definition.roles.values()}
    return Expect.HIGH if expect is Expect.OFF and Role.OPEN_COLLECTOR in stages else expect
