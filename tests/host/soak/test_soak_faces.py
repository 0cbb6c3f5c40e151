"""The faces of a soak: the picture of 80 x 24 with a plot in plain characters, keys, lines.

SPDX-License-Identifier: MIT
"""

import argparse
import asyncio
import threading
from dataclasses import replace

import pytest
from host.report import examples
from host.soak.test_soak import at
from textual.widgets import Static

from sagbench.cli import live, soak_bench
from sagbench.cli.soak_bench import FullScreen, Lines
from sagbench.parts import load_part
from sagbench.record import Verdict
from sagbench.soak.course import Course
from sagbench.soak.view import Standing, picture, plot

PART = load_part("74LS04")


def course(count=40, broken=31):
    made = Course()
    for n in range(count):
        made.add(n * 1.3, at(10 + n / 20, broken=n == broken))
    return made


@pytest.mark.parametrize("small", [False, True])
@pytest.mark.parametrize("size", [(80, 22), (60, 16), (120, 50)])
def test_the_picture_fits_and_says_what_came_and_went_and_what_moved(size, small):
    lines = picture(course(), Standing("74LS04  hex inverter", 600), *size, small)
    assert len(lines) == size[1] and max(map(len, lines)) <= size[0] and all(line.isascii() for line in lines)
    text = "\n".join(lines)
    assert "40 sweeps in 51 s of 10 min; worst so far: not sound" in text and "came and went: logic of pin" in text
    if size[1] >= 22:
        assert "1 of 1 figures that moved: ROL" in text and text.count("*") > 20


def test_what_moved_most_is_plotted_even_if_it_may_be_chance():
    made = Course()
    for n in range(20):
        made.add(n * 1.3, at(10 + 0.02 * (n % 3)))
    assert made.drifts() == []
    text = "\n".join(picture(made, Standing("74LS04", 600), 80, 22))
    assert "no figure has moved by more than its uncertainty" in text and "moved most: ROL" in text and text.count("*") >= 20


def test_before_the_first_sweep_there_is_nothing_to_say():
    lines = picture(Course(), Standing("74LS04", 90), 80, 22)
    assert len(lines) == 22 and "no sweep is done yet of 90 s" in lines[1]


def test_the_plot_rises_with_the_figure_and_has_the_marks():
    """By hand: 40 sweeps of 1.3 s over 68 columns, 10 to 11.95 ohm over 7 lines; the mark at half the time in the middle column."""
    made = course()
    made.mark(39 * 1.3 / 2, "tapped")
    caption, *rows = plot(made, made.drifts()[0], 80, 7)
    assert caption.startswith("ROL, pin") and len(rows) == 7
    body = [row[12:].ljust(68) for row in rows]
    assert body[0].rstrip()[-1] == "*" and body[-1][0] == "*"
    first = [row.index("*") for row in body]
    assert first == sorted(first, reverse=True)
    assert sum(row[33] == "|" for row in body) >= 5
    assert rows[0].split()[:2] == ["11.95", "\N{GREEK CAPITAL LETTER OMEGA}"] and rows[-1].split()[0] == "10"


def pressed(face, *keys):
    """What stands on the screen after these keys."""
    over = threading.Event()

    def wait():
        while not over.wait(0.01) and not face.stop():
            pass

    async def go():
        app = live.screen(live.Work(wait), face.picture, face.KEYS, face.pressed)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press(*keys)
            await pilot.pause(0.15)
            shown = {name: str(app.query_one(f"#{name}", Static).render()) for name in ("picture", "legend")}
        over.set()
        return shown
    return asyncio.run(go())


def test_keys_alone():
    made = course()
    face = FullScreen(made, Standing("74LS04", 600), small=False)
    shown = pressed(face, "m", *"tapped", "enter", "down", "up")
    assert [what for _, what in made.marks] == ["tapped"] and "Marked at" in shown["picture"]
    assert "m mark this moment" in shown["legend"] and "up figure before   down next figure   q end" in shown["legend"] and not face.ended
    pressed(face, "q")
    assert face.ended


class Said:
    def __init__(self, *lines):
        self.lines = list(lines)

    def take(self):
        return (True, self.lines.pop(0)) if self.lines else (False, None)


def test_lines_take_marks_and_the_end(capsys):
    made = course(3, broken=1)
    face = Lines(made, Said("tapped", "cold spray"))
    assert not face.stop() and [what for _, what in made.marks] == ["tapped", "cold spray"]
    assert Lines(made, Said("end")).stop() and not Lines(made, Said(None)).stop() and not Lines(made, None).stop()
    face.told(made)
    assert capsys.readouterr().out == "     2.6 s  sound\n"


# ------------------------------------------------------------------ the command, a bench of paper
class Device:
    info = None

    @classmethod
    def connect(cls, port):
        return cls()

    def __enter__(self):
        return self

    def __exit__(self, *why):
        pass

    def halt(self):
        pass


def soaked(monkeypatch, tmp_path, sweeps, **how):
    """Run the command on these sweeps; its exit code or what it raised, and the log's verdicts."""
    from sagbench.log.database import open_log
    monkeypatch.setenv("SAGBENCH_DATA", str(tmp_path))
    left = iter(sweeps)

    def sweep(*_, **__):
        found = next(left)
        if isinstance(found, BaseException):
            raise found
        return found
    monkeypatch.setattr(soak_bench, "Device", Device)
    monkeypatch.setattr(soak_bench, "sweep", sweep)
    monkeypatch.setattr(soak_bench, "options_for", lambda *_, **__: None)
    given = argparse.Namespace(**{"port": None, "no_calibration": False, "part": "74LS04", "length": 1e9, "every": 0.0, "until_fault": False,
                                  "until_drift": None, "guard": None, "html": None, "log": True, "quiet": True, "small": True, **how})
    try:
        ended = soak_bench.measure_soak(given, PART, full=False)
    except Exception as wrong:
        ended = wrong
    with open_log() as log:
        return ended, [entry.verdict for entry in log.entries()]


def test_the_log_has_the_first_each_change_and_the_last(monkeypatch, tmp_path, capsys):
    sweeps = [at(10), at(10), at(10, True), at(10, True), at(10), at(10), KeyboardInterrupt()]
    ended, kept = soaked(monkeypatch, tmp_path, sweeps)
    assert ended == 1 and kept == ["sound", "not sound", "sound", "sound"]
    assert "6 sweeps" in capsys.readouterr().out


def test_a_fixture_that_fails_in_the_middle_loses_nothing_of_what_there_was(monkeypatch, tmp_path, capsys):
    from sagbench.errors import DeviceError
    page = tmp_path / "soak.html"
    ended, kept = soaked(monkeypatch, tmp_path, [at(10), at(10, True), DeviceError("the rail is gone")], html=str(page))
    assert isinstance(ended, DeviceError) and kept == ["sound", "not sound"]
    out = capsys.readouterr().out
    assert "ended because the fixture or the link to it failed" in out and "came and went: logic" in out
    assert "ended because" in page.read_text() and "logic of pin" in page.read_text()


def test_memory_does_not_grow_with_records():
    """A sweep's figures stay, its record does not: some 3 kB each, so that a day fits into memory."""
    import tracemalloc
    record = examples.weak_gate()
    made = Course()
    made.add(0.0, replace(record, verdict=Verdict.FAILED))
    tracemalloc.start()
    for n in range(200):
        made.add(float(n), replace(record, notes=("x" * 10_000 + str(n),)))
    grown, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert grown / 200 < 6_000
