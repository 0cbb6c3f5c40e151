"""Which functions of the library have their behaviour confirmed by a second description: run the tests that compare, and
count the chips that the passed ones had on their bench.

    python tests/outside/confirmed_logic.py        prints the functions as JSON

Second descriptions: function tables and arithmetic written down apart (tests/host/parts), gate netlists and Verilog models
of others (tests/outside).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).resolve().parent
PARTS = HERE.parent / "host/parts"
OUTSIDE = [HERE / "test_library_netlists.py", HERE / "test_library_models.py"]


def functions() -> list[str]:
    """The confirmed functions.  Raises CalledProcessError if a comparison fails."""
    done = subprocess.run([sys.executable, __file__], capture_output=True, text=True, check=True, cwd=HERE.parents[1])
    return json.loads(done.stdout.splitlines()[-1])


def files() -> list[Path]:
    """The test files that put chips on a bench (or walk through books with one)."""
    texts = {path: path.read_text(encoding="utf-8") for path in sorted(PARTS.glob("test_*.py"))}
    return [*(path for path, text in texts.items() if "paper_bench" in text or "from tables" in text), *OUTSIDE]


class Recorder:
    """Notes the chips of each test; keeps those of the tests that pass."""

    def __init__(self) -> None:
        self.now: set[str] = set()
        self.confirmed: set[str] = set()

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        self.now = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.when == "call" and report.passed:
            self.confirmed |= self.now

    def watch(self, kind: type, function: Callable[[Any], str]) -> None:
        """Note the function of each object of this class."""
        build = kind.__init__

        def noted(self_: Any, *args: Any, **more: Any) -> None:
            build(self_, *args, **more)
            self.now.add(function(self_))

        kind.__init__ = noted


def main() -> int:
    """Exit status of the tests."""
    sys.path[:0] = [str(PARTS), str(HERE)]
    from lane_bench import Copies
    from paper_bench import Bench

    recorder = Recorder()
    recorder.watch(Bench, lambda bench: bench.definition.function)
    recorder.watch(Copies, lambda copies: copies.part.function)
    status = pytest.main(["-q", "-p", "no:cacheprovider", *map(str, files())], plugins=[recorder])
    print(json.dumps(sorted(recorder.confirmed)))
    return int(status)


if __name__ == "__main__":
    sys.exit(main())
