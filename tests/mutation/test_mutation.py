"""The runner tells noticed, unnoticed and unexecuted changes, and hangs, on a program made for it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from mutation.rooms import ROOT
from mutation.sample import shares

PROGRAM = '''
from functools import lru_cache


class Scale:
    def __init__(self, by):
        self.by = by

    @property
    def double(self):
        return self.by * 2


@lru_cache
def tested(a):
    return a + 1


def untested(a):
    return a - 1


def looked_at_but_not_held(a):
    return a << 1


def counts_down(n):
    while n:
        n -= 1
    return n
'''
TESTS = '''
from toy_program import Scale, counts_down, looked_at_but_not_held, tested
import pytest

assert tested(1) == 2                 # fills the cache, as another test file's collection may


@pytest.fixture(scope="module")
def doubled():
    return Scale(3).double


def test_something(doubled):
    assert doubled


def test_tested():
    assert tested(1) == 2
    assert looked_at_but_not_held(1)


def test_double(doubled):
    assert doubled == 6


def test_down():
    assert counts_down(3) == 0
'''
RUN = '''
import sys
from pathlib import Path
import mutation.mutants, mutation.run
mutation.run.CPU_S = 0.0
from mutation.rooms import Room
from mutation.sample import tried
root = Path(sys.argv[1])
mutation.mutants.BUILD = root / "build"
room = Room("toy", ("toy_program.py",), ("test_toy.py",), root)
for mutant, outcome in tried([room], 0, 1, root / "build").items():
    print("|", mutant.function, "|", mutant.was, "|", mutant.now, "|", outcome.outcome, "|", outcome.by)
'''


def _outcomes(folder: Path) -> dict[tuple[str, str, str], tuple[str, str]]:
    (folder / "toy_program.py").write_text(PROGRAM)
    (folder / "test_toy.py").write_text(TESTS)
    paths = os.pathsep.join([str(folder), str(ROOT / "tests"), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run([sys.executable, "-c", RUN, str(folder)], capture_output=True, text=True, timeout=300, check=True,
                          cwd=folder, env={**os.environ, "PYTHONPATH": paths})
    rows = [[word.strip() for word in line[1:].split("|")] for line in done.stdout.splitlines() if line.startswith("|")]
    return {(row[0], row[1], row[2]): (row[3], row[4]) for row in rows}


def test_the_runner_tells_what_tests_notice(tmp_path: Path) -> None:
    """A cached function, a property behind a shared fixture, a line no test reaches, one whose result nobody looks at, a hang."""
    seen = _outcomes(tmp_path)
    assert seen["tested", "a + 1", "a - 1"] == ("killed", "test_toy.py::test_tested")
    assert seen["tested", "1", "2"] == ("killed", "test_toy.py::test_tested")
    assert seen["Scale.double", "2", "3"] == ("killed", "test_toy.py::test_double")
    assert {seen[key][0] for key in seen if key[0] == "untested"} == {"not executed by any test"}
    assert seen["looked_at_but_not_held", "1", "2"] == ("survived", "")
    assert seen["counts_down", "n -= 1", "n = 1"] == ("timeout", "")


def test_rooms_share_a_sample_by_their_lines_and_none_goes_short() -> None:
    assert shares({"small": 10, "large": 990}, 400) == {"small": 60, "large": 396}
    assert shares({"small": 10, "large": 990}, 8) == {"small": 4, "large": 8}
