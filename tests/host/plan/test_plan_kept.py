"""What follows from a part is worked out once, and never taken from another part.

SPDX-License-Identifier: MIT
"""

from sagbench.plan.kept import MOST, kept


class Thing:
    """Stands for a part: no two are alike, whatever they say of themselves."""

    def __eq__(self, other: object) -> bool:
        return True

    __hash__ = None


def counted():
    calls = []

    @kept
    def work(thing, numbers, last=0):
        calls.append((thing, numbers, last))
        return len(calls)

    return work, calls


def test_the_same_is_not_worked_out_again():
    work, calls = counted()
    thing = Thing()
    assert work(thing, [1, 2]) == work(thing, [1, 2]) == work(thing, (1, 2)) == 1 and len(calls) == 1


def test_another_thing_other_numbers_and_names_are_told_apart():
    work, _ = counted()
    thing = Thing()
    assert [work(thing, [1]), work(Thing(), [1]), work(thing, [2]), work(thing, [1], last=thing)] == [1, 2, 3, 4]


def test_a_thing_that_is_gone_gives_nothing_to_the_next_in_its_place():
    """Interpreters give the memory of what is gone, and so its identity, to the next one."""
    work, calls = counted()
    assert [work(Thing(), ()) for _ in range(MOST)] == [*range(1, MOST + 1)] and len(calls) == MOST


def test_the_oldest_goes_first_and_what_is_asked_for_stays():
    work, calls = counted()
    things = [Thing() for _ in range(MOST + 1)]
    for thing in things[:MOST]:
        work(thing, ())
    work(things[0], ())
    work(things[MOST], ())
    assert work(things[0], ()) == 1 and len(calls) == MOST + 1
    assert work(things[1], ()) == MOST + 2
