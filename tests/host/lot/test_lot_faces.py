"""The faces of a box of chips: the picture of 80 x 24, keys alone, lines.

SPDX-License-Identifier: MIT
"""

import asyncio
import io
import threading
from dataclasses import replace

import pytest
from host.report import examples
from textual.widgets import Static

from sagbench.cli import live
from sagbench.cli.lot_faces import KEYS, FullScreen, Lines, command
from sagbench.errors import LinkLost, UsageError
from sagbench.log.database import Facts, Query, open_log
from sagbench.lot.session import Command, Told, Verb
from sagbench.lot.view import Standing, picture, reason
from sagbench.record import Verdict

SOUND, WEAK = examples.sound_inverter(), examples.weak_gate()


@pytest.fixture
def box(tmp_path):
    """Three chips in a lot, and what was told of the last."""
    with open_log(tmp_path / "log.sqlite3") as log:
        lot = log.begin_lot("attic")
        for n, record in enumerate((SOUND, WEAK, WEAK)):
            log.add(record, Facts(board="CPU", position=f"U{n}", note="\x1b[2Jµ"), lot=lot)
        entries = log.entries(Query(lot=lot))
    return entries, Told("result", "", WEAK, entries[-1], "7400", Facts(board="CPU", position="U9"))


def standing(box):
    entries, told = box
    now = Standing(3, "box from the attic")
    now.take(told, entries)
    now.take(Told("remove", "Take it out."), entries)
    return now


@pytest.mark.parametrize("small", [False, True])
@pytest.mark.parametrize("size", [(80, 22), (60, 18), (120, 50), (40, 6)])
def test_the_picture_fits_any_screen_and_says_the_verdict_in_words(box, size, small):
    lines = picture(standing(box), *size, small)
    assert len(lines) == size[1] and max(map(len, lines)) <= size[0] and all(line.isascii() and line.isprintable() for line in lines)
    text = "\n".join(lines)
    assert "3 chips: 1 sound, 2 not sound" in text
    if size[1] > 17:
        assert "entry 3: 7400: pin 8 (3Y)" in text.replace("\n", " ") and "> Take it out." in text
    if size[1] > 21:
        assert "2  7400" in text and "1  74LS04" in text and "CPU U1" in text       # the chips before


def test_large_letters_are_there_only_where_they_are_wanted(box):
    assert not [line for line in picture(standing(box), 80, 22, small=True) if "####" in line]
    assert len([line for line in picture(standing(box), 80, 22) if "##" in line]) >= 7


def test_a_result_stands_until_the_next_chip_is_in(box):
    now = standing(box)
    now.take(Told("insert", "Insert the next 7400."), box[0])
    assert now.big == Verdict.FAILED.value and now.now == "Insert the next 7400."
    now.take(Told("measuring", "Measuring 7400."), box[0])
    assert (now.big, now.why) == ("wait", "")
    now.take(Told("trouble", "The rail is 4.2 V."), box[0])
    assert (now.big, now.why) == ("trouble", "The rail is 4.2 V.")


def test_a_result_that_is_taken_back_does_not_stand_any_more(box):
    now = standing(box)
    now.take(Told("said", "Entry 3 is taken back."), box[0][:2])
    assert now.big == "undone" and "entry 3 is taken back" in now.why
    now.take(Told("said", "Entry 2 is taken back."), box[0][:1])
    assert "entry 3" in now.why                                # the one that was shown; the other is in the answer


def test_a_long_answer_is_readable_to_its_end(box):
    now = standing(box)
    now.take(Told("said", "no part 74XX99; " + "nearest names are many, " * 5 + "`sagbench parts list`"), box[0])
    lines = picture(now, 80, 22)
    assert len(lines) == 22 and "`sagbench parts list`" in lines[-1] and any("no part 74XX99" in line for line in lines)


def test_a_chip_before_has_the_fault_and_not_the_limit_behind_it(box):
    fault, _, limit = WEAK.reasons[0].sentence.partition("; ")
    chip = next(line for line in picture(standing(box), 120, 30) if "CPU U1" in line)
    assert limit and chip.endswith(fault)


def test_a_chip_that_is_not_seated_says_how(box):
    record = replace(examples.not_seated(), reasons=(), partial="not seated", advice="No verdict: The chip sits the wrong way round.")
    assert reason(record) == "The chip sits the wrong way round."


# ------------------------------------------------------------------ keys
def pressed(face, *keys, work=None, size=(80, 24)):
    """The screen's text after these keys; the work behind it waits until it is told to pause or end."""
    heard, over = [], threading.Event()

    def wait():
        while not over.wait(0.01):
            if said := face.heard():
                heard.append(said)
                if said.verb in (Verb.PAUSE, Verb.END):
                    return

    async def go():
        app = live.screen(live.Work(work or wait), face.picture, {k: key for k, (key, _) in KEYS.items()}, face.pressed, face.rings)
        async with app.run_test(size=size) as pilot:
            await pilot.press(*keys)
            await pilot.pause(0.15)
            shown = {name: str(app.query_one(f"#{name}", Static).render()) for name in ("picture", "legend")} if app.is_running else {}
            heights = app.query_one("#picture").size.height + app.query_one("#legend").size.height if app.is_running else 0
        over.set()
        return app, shown, heights
    app, shown, heights = asyncio.run(go())
    return heard, shown, heights, app


def face_of(box, **how):
    return FullScreen(standing(box), how.pop("small", False), how.pop("silent", True), **how)


def test_every_key_is_on_the_smallest_screen_and_nothing_is_lost(box):
    _, shown, heights, _ = pressed(face_of(box), size=(80, 24))
    assert heights == 24 and all(f"{key} {does.name}" in shown["legend"] for key, (does, _) in KEYS.items())
    assert "Take it out." in shown["picture"]


def test_keys_alone_say_everything(box):
    heard, _, _, _ = pressed(face_of(box), "p", *"U14", "enter", "n", *"bent leg", "backspace", "enter", "C", *"8142", "enter", "a", "u", "s", "q")
    assert heard == [Command(Verb.PLACE, "U14"), Command(Verb.NOTE, "bent le"), Command(Verb.CODE, "8142", last=True), Command(Verb.RETEST),
                     Command(Verb.UNDO), Command(Verb.SKIP), Command(Verb.PAUSE)]


def test_what_is_typed_is_seen_and_can_be_dropped(box):
    face = face_of(box)
    heard, shown, _, _ = pressed(face, "n", *"q e u")
    assert heard == [] and "> q e u_" in shown["legend"] and "Note of the chip" in shown["legend"]
    heard, shown, _, _ = pressed(face, "n", *"qq", "escape")
    assert heard == [] and "a again" in shown["legend"]
    heard, shown, _, _ = pressed(face, "n", "enter")
    assert heard == [] and "Nothing was typed." in shown["picture"]


def test_a_box_is_not_ended_by_one_key(box):
    heard, shown, _, _ = pressed(face_of(box), "e", "enter")
    assert heard == [] and "The box goes on." in shown["picture"]
    assert pressed(face_of(box), "e", *"yes", "enter")[0] == [Command(Verb.END)]


def test_ctrl_c_pauses(box):
    assert pressed(face_of(box), "ctrl+c")[0] == [Command(Verb.PAUSE)]


def test_a_result_sounds_or_rings_the_bell(box):
    played = []

    def play(verdict, ring):
        played.append(verdict)
        ring(3)
    face = face_of(box, silent=False, play=play)
    face.tell(box[1], box[0])
    face.tell(Told("remove", "Take it out."), box[0])
    assert played == [Verdict.FAILED] and (face.rings(), face.rings()) == (3, 0)
    silent = face_of(box, play=play)
    silent.tell(box[1], box[0])
    assert len(played) == 1 and silent.rings() == 0


def test_what_the_work_raises_comes_out(box):
    def lost():
        raise LinkLost("gone")
    work = live.Work(lost)
    face = face_of(box)

    async def go():
        app = live.screen(work, face.picture, {"q": live.Key("end")}, face.pressed)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause(0.3)
    asyncio.run(go())
    assert isinstance(work.raised, LinkLost) and work.over.is_set()


# ------------------------------------------------------------------ lines
class Said:
    """Lines typed beforehand."""

    def __init__(self, *lines):
        self.lines = list(lines)

    def take(self):
        return (True, self.lines.pop(0)) if self.lines else (False, None)


def test_lines_say_the_same(box):
    out = io.StringIO()
    face = Lines(Said("help", "jump", "last code 8142", "photo a b.jpg", None), out, small=True, silent=True)
    heard = [face.heard() for _ in range(6)]
    assert heard == [None, None, Command(Verb.CODE, "8142", last=True), Command(Verb.PHOTO, "a b.jpg"), Command(Verb.PAUSE), None]
    face.tell(box[1], box[0])
    text = out.getvalue()
    assert "NOT SOUND\nentry 3: 7400: pin 8 (3Y)" in text and "'jump' is no command" in text and "last place U9" in text
    assert all(len(line) <= 80 for line in text.splitlines())


def test_words_for_the_last_chip():
    assert command("last place U9") == Command(Verb.PLACE, "U9", last=True)
    with pytest.raises(UsageError, match="'last' is no command"):
        command("last")
