"""One mutant after the other: in a fork of a pytest that has collected all tests, the changed function's code is put in the place
of the live one (in whatever decorator it stands), and the tests that execute the changed statement run until one fails.

A fork costs some 10 ms, a new interpreter with its imports more than a second.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ast
import functools
import gc
import json
import os
import resource
import select
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from types import CodeType, FunctionType

import coverage
import hypothesis
import pytest
from _pytest.runner import runtestprotocol

from mutation.mutants import Mutant
from mutation.rooms import Room, digest

# Seconds of CPU: a test longer than SLOW takes no part, and the tests of one mutant together take no more than ENOUGH.
SLOW, ENOUGH = 2.7, 6.0
# A mutant that computes for so much longer than its tests did while they were watched (some twice their time), or stands for so long, hangs.
CPU_S, WALL_S = 3.0, 600.0
KILLED, TIMEOUT, SURVIVED, NOT_RUN, SAME = "killed", "timeout", "survived", "not executed by any test", "no change"


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant; `by` is the test that failed; `state` the digest of what the outcome hangs on."""

    id: str
    outcome: str
    by: str
    state: str
    seconds: float


Covered = dict[str, dict[str, list[int]]]         # test -> file -> lines


def _bare(code: CodeType) -> tuple[object, ...]:
    """What a code object does, without where it stands."""
    return (code.co_code, code.co_names, code.co_varnames, code.co_freevars, code.co_exceptiontable,
            tuple(_bare(one) if isinstance(one, CodeType) else (type(one), one) for one in code.co_consts))


def _codes(source: str, path: Path) -> dict[tuple[str, int], CodeType]:
    """Code of the functions and methods of a file, by qualified name and by how many of that name came before."""
    found: dict[tuple[str, int], CodeType] = {}

    def look(code: CodeType) -> None:
        for one in code.co_consts:
            if isinstance(one, CodeType) and not one.co_name.startswith("<"):
                nth = 0
                while (one.co_qualname, nth) in found:
                    nth += 1
                if one.co_flags & 1:                               # CO_OPTIMIZED: a function, not the body of a class
                    found[one.co_qualname, nth] = one
                else:
                    look(one)
    look(compile(source, str(path), "exec", dont_inherit=True))
    return found


def _statement(source: str, line: int) -> set[int]:
    """Lines of the smallest statement at a line (of a compound one, its head)."""
    best = range(line, line + 1)
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None) or getattr(node, "cases", None)
            inner = body[0] if isinstance(body, list) else None
            first = getattr(inner, "lineno", None) or getattr(getattr(inner, "pattern", None), "lineno", None)
            end = (first - 1 if first else node.end_lineno) or node.lineno
            if node.lineno <= line <= max(end, node.lineno):
                best = range(node.lineno, max(end, node.lineno) + 1)
    return set(best)


def _child(work: Callable[[], str], cpu_s: float, wall_s: float) -> tuple[str, bool]:
    """What `work` returns in a fork, and whether it came to its end; ("timeout", False) if it was cut off."""
    read, write = os.pipe()
    pid = os.fork()
    if not pid:
        try:
            os.close(read)
            os.setpgid(0, 0)
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (1, 2):
                os.dup2(nothing, stream)
            resource.setrlimit(resource.RLIMIT_CPU, (int(cpu_s) + 1, int(cpu_s) + 2))
            resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
            said = work().encode()
            while said:
                said = said[os.write(write, said):]
            os._exit(0)
        finally:
            os._exit(3)
    os.close(write)
    until, said, cut = time.monotonic() + wall_s, b"", False
    while not cut:
        if select.select([read], [], [], max(0.0, until - time.monotonic()))[0]:
            more = os.read(read, 1 << 20)
            said += more
            if not more:
                break
        elif time.monotonic() >= until:
            os.killpg(pid, signal.SIGKILL)
            cut = True
    os.close(read)
    _, status = os.waitpid(pid, 0)
    if cut or (os.WIFSIGNALED(status) and os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)):
        return TIMEOUT, False
    return said.decode(), os.WIFEXITED(status) and os.WEXITSTATUS(status) == 0


def _run(item: pytest.Item, after: pytest.Item | None) -> tuple[bool, float]:
    """Whether a test fails, and its CPU seconds."""
    began = time.process_time()
    failed = any(report.failed for report in runtestprotocol(item, log=False, nextitem=after))
    return failed, round(time.process_time() - began, 4)


def _too_long(number: int, frame: object) -> None:
    raise TimeoutError("too long to take part")


def _followed(items: list[pytest.Item]) -> Iterator[tuple[pytest.Item, pytest.Item | None]]:
    return zip(items, [*items[1:], None], strict=True)


def _first_to_fail(items: list[pytest.Item]) -> str:
    """Its name, or nothing."""
    return next((item.nodeid for item, after in _followed(items) if _run(item, after)[0]), "")


class Runner:
    """A pytest plugin: its loop runs mutants instead of tests."""

    def __init__(self, rooms: list[Room], mutants: Iterator[Mutant], tell: Callable[[Mutant, Outcome], None], kept: dict[str, Outcome],
                 build: Path, watched: list[Path]) -> None:
        self.rooms, self.mutants, self.tell, self.kept, self.build, self.watched = rooms, mutants, tell, kept, build, watched
        self.root = rooms[0].root
        self.tests = sorted({file for room in rooms for file in room.tests})
        self.now = ""
        self.covered: Covered = {}
        self.seconds: dict[str, float] = {}
        self.watch: coverage.Coverage | None = None

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self) -> None:
        """After the conftest, which loads a profile of its own, and before tests make settings from it."""
        hypothesis.settings.register_profile("mutation", derandomize=True, database=None, deadline=None,
                                             phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate))
        hypothesis.settings.load_profile("mutation")

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object], request: pytest.FixtureRequest) -> Iterator[None]:
        """What a shared fixture executes is executed for every test of its file."""
        shared = self.watch is not None and fixturedef.scope != "function"
        if shared and self.watch:
            self.watch.switch_context(request.node.nodeid.split("::")[0])
        yield
        if shared and self.watch:
            self.watch.switch_context(self.now)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Map, then mutants."""
        self.items = {item.nodeid: item for item in session.items}
        self.caches = [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)]
        for test in sorted({nodeid.split("::")[0] for nodeid in self.items}):
            self._map(test)
        self.live: dict[tuple[str, str, int], list[FunctionType]] = {}
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType):
                code = thing.__code__
                self.live.setdefault((code.co_filename, code.co_qualname, code.co_firstlineno), []).append(thing)
        gc.freeze()
        for mutant in self.mutants:
            self.tell(mutant, self._try(mutant))
        return True

    def _forget(self) -> None:
        """Results that collection, or an import, has left in caches."""
        for cached in self.caches:
            cached.cache_clear()

    def _map(self, test: str) -> None:
        """Which lines each test of a file executes, and its CPU seconds; kept until the test or a source that it executes changes."""
        sources = self.watched
        kept = self.build / "maps" / f"{test.replace('/', '.')}.json"
        data = json.loads(kept.read_text()) if kept.exists() else {}
        if not data or any(digest(self.root / file) != was for file, was in data["state"].items()):
            items = [item for nodeid, item in self.items.items() if nodeid.split("::")[0] == test]
            print(f"mutation: which lines {test} executes ...", flush=True)

            def work() -> str:
                self._forget()
                signal.signal(signal.SIGPROF, _too_long)
                watch = coverage.Coverage(data_file=None, include=[str(path) for path in sources], config_file=False)
                watch.start()
                seconds: dict[str, float] = {}
                failed: list[str] = []
                slow: set[str] = set()
                self.watch = watch
                for item, after in _followed(items):
                    # Parameters of a test that was too long for one of them are not tried: they would take no part.
                    if (test_function := item.nodeid.partition("[")[0]) in slow:
                        seconds[item.nodeid] = 1.2 * SLOW
                        continue
                    self.now = item.nodeid
                    watch.switch_context(item.nodeid)
                    signal.setitimer(signal.ITIMER_PROF, 1.2 * SLOW)       # shared fixtures, and being watched, cost time
                    wrong, seconds[item.nodeid] = _run(item, after)
                    signal.setitimer(signal.ITIMER_PROF, 0)
                    slow |= {test_function} if seconds[item.nodeid] > 1.1 * SLOW else set()
                    failed += [item.nodeid] * (wrong and seconds[item.nodeid] < 1.1 * SLOW)   # those cut off are only slow
                watch.stop()
                found, covered = watch.get_data(), Covered()
                for path in sources:
                    for line, contexts in found.contexts_by_lineno(str(path)).items():
                        for context in filter(None, contexts):
                            covered.setdefault(context, {}).setdefault(path.relative_to(self.root).as_posix(), []).append(line)
                state = {file: digest(self.root / file) for file in {test}.union(*covered.values())}
                return json.dumps({"state": state, "failed": failed, "seconds": seconds, "covered": covered})
            said, whole = _child(work, 600, 1800)
            assert whole, f"{test} did not come to its end"
            data = json.loads(said)
            kept.parent.mkdir(parents=True, exist_ok=True)
            if not data["failed"]:
                kept.write_text(said)
        for nodeid in data["failed"]:
            print(f"mutation: {nodeid} fails without any change; it takes no part", flush=True)
            del self.items[nodeid]
        self.covered |= data["covered"]
        self.seconds |= data["seconds"]

    def _chosen(self, mutant: Mutant, source: str) -> list[pytest.Item]:
        """Tests that execute the changed statement, the room's own first, quick ones first, in files together."""
        lines = _statement(source, mutant.line)
        own = next(set(room.tests) for room in self.rooms if room.name == mutant.room)
        reached = {name for name, files in self.covered.items() if not lines.isdisjoint(files.get(mutant.file, ()))}
        those = [nodeid for nodeid in self.items if self.seconds[nodeid] < SLOW
                 and not reached.isdisjoint((nodeid, nodeid.split("::")[0]))]
        those.sort(key=lambda nodeid: (nodeid.split("::")[0] not in own, self.seconds[nodeid]))
        left, taken = ENOUGH, list[pytest.Item]()
        for nodeid in those:
            left -= self.seconds[nodeid]
            if left > 0 or not taken:
                taken.append(self.items[nodeid])
        return taken

    def _try(self, mutant: Mutant) -> Outcome:
        """The outcome, the kept one where nothing it hangs on has changed."""
        began = time.monotonic()
        path = self.root / mutant.file
        source = path.read_text()
        kept = self.kept.get(mutant.id)
        if kept and kept.state == self._state(mutant, kept.outcome, kept.by):
            return kept
        outcome, by = self._outcome(mutant, source, path)
        return Outcome(mutant.id, outcome, by, self._state(mutant, outcome, by), round(time.monotonic() - began, 2))

    def _state(self, mutant: Mutant, outcome: str, by: str) -> str:
        """What an outcome hangs on: the file, and the test that fails; where none does, all of them."""
        tests = [by.split("::")[0]] if by else self.tests if outcome in (SURVIVED, NOT_RUN) else []
        return digest(self.root / mutant.file) + "".join(digest(self.root / file)[:4] for file in tests)

    def _outcome(self, mutant: Mutant, source: str, path: Path) -> tuple[str, str]:
        before, after = _codes(source, path), _codes(mutant.apply(source), path)
        key, old = max(((key, code) for key, code in before.items() if key[0] == mutant.function
                        and code.co_firstlineno <= mutant.line), key=lambda pair: pair[1].co_firstlineno)
        new = after[key]
        if _bare(old) == _bare(new) or new.co_freevars != old.co_freevars:
            return SAME, ""
        functions = self.live.get((str(path), old.co_qualname, old.co_firstlineno), [])
        items = self._chosen(mutant, source)
        if not functions or not items:
            return NOT_RUN, ""

        def work() -> str:
            self._forget()
            for function in functions:
                function.__code__ = new
            return _first_to_fail(items)
        usual = sum(self.seconds[item.nodeid] for item in items)
        said, whole = _child(work, CPU_S + usual, WALL_S)
        if said == TIMEOUT:
            return TIMEOUT, ""
        return (SURVIVED, "") if whole and not said else (KILLED, said)


def keep(path: Path, outcome: Outcome) -> None:
    """A line more."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a") as file:
        file.write(json.dumps(asdict(outcome)) + "\n")


def recall(path: Path) -> dict[str, Outcome]:
    """What is known, the last word on each."""
    rows = path.read_text().splitlines() if path.exists() else []
    return {one.id: one for one in (Outcome(**json.loads(row)) for row in rows)}
