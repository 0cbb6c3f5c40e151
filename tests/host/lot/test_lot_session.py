"""The order of things with a box of chips, on a bench of paper.

SPDX-License-Identifier: MIT
"""

import contextlib
import io
import wave
from dataclasses import replace

import pytest
from host.report import examples
from pages_here import shifted

from sagbench.cli.lot_bench import lines
from sagbench.cli.lot_faces import command
from sagbench.errors import DeviceError, LinkLost, UsageError
from sagbench.log.database import Query, open_log
from sagbench.lot import loud
from sagbench.lot.page import to_html
from sagbench.lot.presence import STILL, Presence, Watcher
from sagbench.lot.session import Command, Session, Verb
from sagbench.lot.summary import Cause, summary
from sagbench.lot.view import Standing, counted, picture
from sagbench.parts import load_part
from sagbench.record import Verdict

SOUND, WEAK = examples.sound_inverter(), examples.weak_gate()
CHIP = frozenset({(7, p) for p in range(1, 15)})
PART = load_part("74LS04")


class PaperBench:
    """The socket's course is a list: None empty, else a record, or an error; each stays for some looks."""

    def __init__(self, course, looks=STILL + 1):
        self.course = [thing for thing in course for _ in range(looks)]
        self.measured = 0

    def see(self):
        if not self.course:
            raise KeyboardInterrupt
        return CHIP if self.course.pop(0) is not None else frozenset()

    def measure(self, part, marking):
        self.measured += 1
        here = self.course[0] if self.course else None
        if isinstance(here, Exception):
            raise here
        return here or SOUND

    def pause(self, seconds):
        assert 0 < seconds <= 1


def held(tmp_path, course, said=(), looks=STILL + 1, part=PART):
    """Run a session to the end of its course; what it told, and the log's entries.  said: looks -> command."""
    bench, told, turn = PaperBench(course, looks), [], iter(range(10**6))
    said = dict(said)
    with open_log(tmp_path / "log.sqlite3") as log:
        lot = log.begin_lot("attic")
        session = Session(bench, Watcher(bench.see), log, lot, load_part, lambda part: "library", told.append,
                          lambda: said.get(next(turn)), part, "74LS04")  # fmt: skip
        try:
            session.run()
        except KeyboardInterrupt:
            pass
        return told, log.entries(Query(undone=True)), bench


def kinds(told):
    return [one.kind for one in told]


def test_each_chip_once_and_kept_before_it_is_told(tmp_path):
    told, entries, bench = held(tmp_path, [None, SOUND, None, WEAK, None, SOUND, None])
    assert bench.measured == 3 and [e.verdict for e in entries] == ["sound", "not sound", "sound"]
    assert kinds(told) == ["insert", "measuring", "result", "remove"] * 3 + ["insert"]
    assert [t.entry.id for t in told if t.kind == "result"] == [1, 2, 3]


def test_a_chip_left_in_is_not_measured_again(tmp_path):
    _, _, bench = held(tmp_path, [None, SOUND, SOUND, SOUND, SOUND, None])
    assert bench.measured == 1


def test_again_replaces_the_entry_and_undo_takes_it_back(tmp_path):
    told, entries, bench = held(tmp_path, [None, WEAK, SOUND, SOUND, SOUND, SOUND, None], {8: Command(Verb.RETEST), 12: Command(Verb.UNDO)})
    assert bench.measured == 2
    assert [(e.again, bool(e.undone)) for e in entries] == [(None, False), (1, True)]
    assert any("Entry 2 (74LS04, sound) is taken back" in t.sentence for t in told)


def test_a_skipped_chip_is_not_measured(tmp_path):
    _, entries, bench = held(tmp_path, [None, None, SOUND, None, SOUND, None], {8: Command(Verb.SKIP)}, looks=4)
    assert bench.measured == 1 and len(entries) == 1


def test_places_notes_and_codes(tmp_path):
    said = {0: Command(Verb.PLACE, "U14"), 1: Command(Verb.CODE, "8142"), 9: Command(Verb.NOTE, "hot"), 10: Command(Verb.NOTE, "twice")}
    _, entries, _ = held(tmp_path, [None, SOUND, SOUND, None, SOUND, None], said)
    assert [(e.facts.position, e.facts.date_code, e.facts.note) for e in entries] == [("U14", "8142", "hot; twice"), ("", "8142", "")]


def test_undo_goes_back_step_by_step_and_again_never_replaces_another_chip(tmp_path):
    said = {9: Command(Verb.UNDO), 10: Command(Verb.UNDO), 11: Command(Verb.UNDO), 12: Command(Verb.RETEST)}
    told, entries, bench = held(tmp_path, [None, SOUND, None, WEAK, SOUND, SOUND, SOUND, SOUND, None], {n + 9: c for n, c in said.items()})
    assert bench.measured == 3
    assert [(e.again, bool(e.undone)) for e in entries] == [(None, True), (None, True), (None, False)]
    assert [t.sentence.split(" (")[0] for t in told if t.kind == "said"] == ["Entry 2", "Entry 1", "There is nothing to take back."]


def test_an_again_keeps_what_was_said_of_the_chip_and_spends_nothing_of_the_next(tmp_path):
    said = {0: Command(Verb.PLACE, "U1"), 8: Command(Verb.PLACE, "U2"), 9: Command(Verb.NOTE, "hot"), 10: Command(Verb.RETEST)}
    _, entries, _ = held(tmp_path, [None, WEAK, SOUND, SOUND, SOUND, None, SOUND, None], said)
    assert [(e.facts.position, e.facts.note) for e in entries] == [("U1", "hot"), ("U1", "hot"), ("U2", "")]


def test_an_again_after_undo_is_of_the_same_place(tmp_path):
    """One that was taken back because its legs were dirty is still the chip from U1; the next place is the next chip's."""
    said = {0: Command(Verb.PLACE, "U1"), 8: Command(Verb.PLACE, "U2"), 9: Command(Verb.UNDO), 10: Command(Verb.RETEST)}
    _, entries, _ = held(tmp_path, [None, WEAK, SOUND, SOUND, SOUND, None, SOUND, None, SOUND, None], said)
    assert [(e.facts.position, bool(e.undone)) for e in entries] == [("U1", True), ("U1", False), ("U2", False), ("", False)]


def test_what_was_said_of_a_chip_taken_back_goes_with_it(tmp_path):
    _, entries, _ = held(tmp_path, [None, WEAK, SOUND, None, SOUND, None], {0: Command(Verb.PLACE, "U1"), 8: Command(Verb.UNDO)})
    assert [(e.facts.position, bool(e.undone)) for e in entries] == [("U1", True), ("", False)]


WRONG_WAY = replace(SOUND, verdict=Verdict.INCOMPLETE, partial="not seated as it should be")


def test_what_was_said_of_a_chip_stays_with_it_until_it_sits_as_it_must(tmp_path):
    """Its place is read off the board once; the chip put in the wrong way round must not spend it."""
    said = {0: Command(Verb.PLACE, "U1"), 1: Command(Verb.CHIP, "N1")}
    told, entries, _ = held(tmp_path, [None, WRONG_WAY, None, SOUND, None, SOUND, None], said)
    assert [(e.facts.position, e.facts.chip) for e in entries] == [("U1", "N1"), ("U1", "N1"), ("", "")]
    assert [t.sentence for t in told if t.kind == "said"][2:] == ["U1 N1 stays with it for when it is back in its right place."]


def test_another_place_said_meanwhile_is_the_next_chip_s(tmp_path):
    said = {0: Command(Verb.PLACE, "U1"), 8: Command(Verb.PLACE, "U2"), 9: Command(Verb.RETEST)}
    _, entries, _ = held(tmp_path, [None, WRONG_WAY, SOUND, SOUND, SOUND, None, SOUND, None], said)
    assert [e.facts.position for e in entries] == ["U1", "U1", "U2"]
    _, entries, _ = held(tmp_path / "b", [None, WRONG_WAY, SOUND, SOUND, SOUND, None, SOUND, None], {k: said[k] for k in (0, 9)})
    assert [e.facts.position for e in entries] == ["U1", "U1", ""]


def test_facts_of_the_chip_measured_last(tmp_path):
    said = {8: Command(Verb.CODE, "8142", last=True), 9: Command(Verb.PHOTO, "/pictures/1.jpg"), 10: Command(Verb.PLACE, "U3", last=True)}
    _, entries, _ = held(tmp_path, [None, SOUND, SOUND, SOUND, None, SOUND, None], said)
    assert [(e.facts.date_code, e.facts.photo, e.facts.position) for e in entries] == [("8142", "/pictures/1.jpg", "U3"), ("", "", "")]


def test_maker_board_and_name(tmp_path):
    said = {0: Command(Verb.MAKER, "TI"), 1: Command(Verb.BOARD, "CPU"), 2: Command(Verb.CHIP, "N12")}
    _, entries, _ = held(tmp_path, [None, SOUND, None, SOUND, None], said)
    assert [(e.facts.maker, e.facts.board, e.facts.chip) for e in entries] == [("TI", "CPU", "N12"), ("TI", "CPU", "")]


def test_a_paused_box_goes_on_where_it_was(tmp_path):
    held(tmp_path, [None, SOUND, None], {0: Command(Verb.BOARD, "CPU"), 1: Command(Verb.PLACE, "U1")})
    bench, told = PaperBench([None, SOUND, SOUND, None]), []
    turn = iter([None] * 9 + [Command(Verb.UNDO), Command(Verb.UNDO)] + [None] * 99)
    with open_log(tmp_path / "log.sqlite3") as log:
        session = Session(bench, Watcher(bench.see), log, 1, load_part, lambda part: "library", told.append, lambda: next(turn), PART, "74LS04")
        with pytest.raises(KeyboardInterrupt):
            session.run()
        entries = log.entries(Query(undone=True))
    assert [(e.facts.board, e.facts.position, bool(e.undone)) for e in entries] == [("CPU", "U1", True), ("CPU", "", True)]


def test_nothing_to_skip_in_an_empty_socket(tmp_path):
    told, entries, _ = held(tmp_path, [None, None, SOUND, None], {4: Command(Verb.SKIP)})
    assert len(entries) == 1 and any("no chip to skip" in t.sentence for t in told)


def test_a_mixed_box_waits_until_it_knows_what_the_chip_is(tmp_path):
    told, entries, bench = held(tmp_path, [None, SOUND, SOUND, SOUND], {6: Command(Verb.PART, "74XX99"), 8: Command(Verb.PART, "74LS00")}, part=None)
    assert bench.measured == 1 and len(entries) == 1
    assert any("74XX99" in t.sentence for t in told) and any("quad 2-input" in t.sentence for t in told)


def test_trouble_of_the_fixture_is_told_and_the_box_goes_on(tmp_path):
    told, entries, bench = held(tmp_path, [None, DeviceError("The rail is 4.2 V."), None, SOUND, None])
    assert bench.measured == 2 and len(entries) == 1
    assert [t.sentence for t in told if t.kind == "trouble"] == ["The rail is 4.2 V."]


def test_a_lost_link_keeps_what_there_was(tmp_path):
    lost = LinkLost("gone")
    lost.record = replace(SOUND, verdict=Verdict.INCOMPLETE, partial="the link to the fixture was lost")
    with pytest.raises(LinkLost):
        held(tmp_path, [None, lost])
    with open_log(tmp_path / "log.sqlite3") as log:
        assert [e.verdict for e in log.entries()] == ["not finished"]


def test_presence_needs_looks_that_agree():
    looks = iter([CHIP, CHIP - {(7, p) for p in range(5)}, CHIP, CHIP, CHIP, frozenset(), frozenset(), frozenset(), frozenset({(1, 2)})])
    watcher = Watcher(lambda: next(looks))
    seen = [watcher.now() for _ in range(8)]
    assert seen[4] is Presence.SEATED and seen[:4] == [Presence.MOVING] * 4
    assert seen[5:] == [Presence.MOVING, Presence.MOVING, Presence.EMPTY]


def test_words_typed():
    assert command("note pin 3 bent") == Command(Verb.NOTE, "pin 3 bent") and command("  ") is None
    assert command("AGAIN").verb is Verb.RETEST
    with pytest.raises(UsageError, match="help"):
        command("jump")


def test_every_verdict_has_a_rhythm_and_letters_of_its_own():
    assert len({tuple(round(s, 2) for _, s in tones) for tones in loud.TONES.values()}) == len(Verdict) == len(set(loud.BELLS.values()))
    for verdict in Verdict:
        with wave.open(io.BytesIO(loud.sound(verdict))) as file:
            assert 0.2 < file.getnframes() / file.getframerate() < 1.5
        big = loud.letters(verdict.value, 80)
        assert len(big) >= 5 and max(map(len, big)) <= 80 and all(line.isascii() for line in big)
    assert loud.letters("not finished", 20) == ["NOT FINISHED"]


def test_the_summary_of_a_box(tmp_path):
    held(tmp_path, [None, SOUND, None, WEAK, None, WEAK, None])
    with open_log(tmp_path / "log.sqlite3") as log:
        box = summary(log, 1)
    assert box.verdicts == {"sound": 1, "not sound": 2} and len(box.causes[0].chips) == 2
    assert all(len(line) <= 78 for line in lines(box))


def test_a_chip_put_in_wrongly_and_tried_again_is_one_chip(tmp_path):
    """Twice wrongly, then as it must; the last was given up: it stays a chip without a verdict."""
    held(tmp_path, [None, SOUND, None, WRONG_WAY, None, WRONG_WAY, None, replace(SOUND, verdict=Verdict.FAILED), None, WRONG_WAY, None])
    with open_log(tmp_path / "log.sqlite3") as log:
        box, entries = summary(log, 1), log.entries(Query(lot=1))
        page = to_html(log, box)
    assert len(entries) == 5 and [entry.id for entry in box.entries] == [1, 4, 5]
    assert box.verdicts == {"sound": 1, "not sound": 1, "not finished": 1} and box.wrongly == "2 times put in wrongly"
    told = "3 chips: 1 sound, 1 not sound, 1 not finished"
    assert f"{told}; 2 times put in wrongly" in " ".join(" ".join(lines(box)).split())
    assert counted(entries) == told
    assert f"{told}   next: 74LS04   2 times put in wrongly" in picture(Standing(1, "attic", part="74LS04", entries=tuple(entries)), 100, 24)
    assert "2 times put in wrongly" in page and told in page
    assert [len(cause.chips) for cause in box.causes if "seated" in cause.what] == [1]


@pytest.mark.parametrize("said, chips", [({8: Command(Verb.PLACE, "U2")}, 2), ({8: Command(Verb.CHIP, "N2")}, 1), ({8: Command(Verb.NOTE, "bent leg")}, 1)])
def test_another_position_said_means_another_chip(tmp_path, said, chips):
    """A name where there was none is of the chip that was put in wrongly, as its note is."""
    held(tmp_path, [None, WRONG_WAY, WRONG_WAY, None, SOUND, None], {0: Command(Verb.PLACE, "U1"), **said})
    with open_log(tmp_path / "log.sqlite3") as log:
        assert len(summary(log, 1).entries) == chips


def test_an_again_that_is_taken_back_leaves_the_first_measurement(tmp_path):
    """Undone step by step: the second measurement, then the first."""
    course, again = [None, SOUND, WEAK, WEAK, WEAK, None], {8: Command(Verb.RETEST)}
    told, entries, _ = held(tmp_path / "once", course, again | {12: Command(Verb.UNDO)})
    assert [e.undone is None for e in entries] == [True, False] and "entry 1 of the same chip counts again" in told[-1].sentence + told[-2].sentence
    _, entries, _ = held(tmp_path / "twice", course, again | {12: Command(Verb.UNDO), 13: Command(Verb.UNDO)})
    assert [e.undone is None for e in entries] == [False, False]


def test_a_chip_that_is_known_again_says_what_has_changed(tmp_path):
    """The same name, the same place on the same board: told with the result; a nameless chip is nobody."""
    name = {0: Command(Verb.CHIP, "N12"), 9: Command(Verb.CHIP, "n12")}
    told, entries, _ = held(tmp_path / "moved", [None, SOUND, SOUND, None, shifted(SOUND, 2.0), None], name)
    after = [one.sentence for one in told if one.kind == "said" and "This chip was" in one.sentence]
    assert len(after) == 1 and after[0].startswith("This chip was entry 1 (") and " -> " in after[0] and [e.facts.chip for e in entries] == ["N12", "n12"]
    told, _, _ = held(tmp_path / "same", [None, SOUND, SOUND, None, SOUND, None], name)
    assert any("nothing has changed by more than the uncertainties" in one.sentence for one in told)
    told, _, _ = held(tmp_path / "nameless", [None, SOUND, SOUND, None, shifted(SOUND, 2.0), None])
    assert not any("This chip was" in one.sentence for one in told)


def test_what_is_likely_wrong_is_said_in_words_with_the_chips_it_is_true_of(tmp_path):
    held(tmp_path, [None, SOUND, None, WEAK, None, WEAK, None, examples.not_seated(), None])
    with open_log(tmp_path / "log.sqlite3") as log:
        box = summary(log, 1)
    first = WEAK.diagnoses[0]
    assert [(cause.what, cause.chips) for cause in box.causes][0] == (first.kind, ((2, first.pin), (3, first.pin)))
    told = " ".join(" ".join(lines(box)).split())
    assert f"2 x {first.kind}: entries 2 pin {first.pin}, 3 pin {first.pin}" in told and "(entry 4): " in told and "..." not in told


def test_what_is_likely_wrong_is_said_once():
    assert Cause("not seated as it must be", ((3, None),), "it is not seated as it must be").told() == "not seated as it must be (entry 3)"
    assert Cause("short", ((3, 1),), "pin 1 (1A) is shorted inside to pin 2 (1B)").told() == "short (entry 3): pin 1 (1A) is shorted inside to pin 2 (1B)"


def test_a_chip_without_a_diagnosis_has_what_weighs_most(tmp_path):
    bare = replace(WEAK, diagnoses=())
    held(tmp_path, [None, bare, None])
    with open_log(tmp_path / "log.sqlite3") as log:
        found = log.likeliest(1)
    worst = WEAK.reasons[0]
    assert (found.what, found.pin) == (f"{worst.quantity}: {worst.outcome.value}", worst.pin) and worst.sentence.startswith(found.sentence)


def gone_on(tmp_path, course, said=()):
    """A lot with one entry gone on with: what was told, and the entries that count."""
    held(tmp_path, [None, SOUND, None])
    bench, told, turn, said = PaperBench(course), [], iter(range(10**6)), dict(said)
    with open_log(tmp_path / "log.sqlite3") as log:
        session = Session(bench, Watcher(bench.see), log, 1, load_part, lambda part: "library", told.append, lambda: said.get(next(turn)), PART, "74LS04")
        with contextlib.suppress(KeyboardInterrupt):
            session.run()
        return told, log.entries()


def test_the_chip_in_the_socket_when_a_box_is_gone_on_with_does_not_count_twice(tmp_path):
    """The program died after its result: the chip is still in."""
    told, entries = gone_on(tmp_path, [SOUND, SOUND, None, WEAK, None])
    assert kinds(told)[:2] == ["remove", "insert"] and "entry 1?" in told[0].sentence and [e.verdict for e in entries] == ["sound", "not sound"]


def test_it_is_measured_if_the_user_says_that_it_is_the_next(tmp_path):
    _, entries = gone_on(tmp_path, [WEAK, WEAK, WEAK, None], {0: Command(Verb.RETEST)})
    assert [e.verdict for e in entries] == ["sound", "not sound"]


def test_an_empty_socket_goes_on_at_once(tmp_path):
    told, entries = gone_on(tmp_path, [None, WEAK, None])
    assert kinds(told)[:3] == ["insert", "measuring", "result"] and len(entries) == 2


def test_a_photo_is_kept_by_its_whole_path_and_one_that_is_not_there_is_said(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "u14.jpg").write_bytes(b"a picture")
    told, entries, _ = held(tmp_path, [None, SOUND, SOUND, SOUND, None], {8: Command(Verb.PHOTO, "u15.jpg"), 9: Command(Verb.PHOTO, "u14.jpg")})
    answers = [one.sentence for one in told if one.kind == "said"]
    assert "no such file" in answers[0] and "no such file" not in answers[1] and entries[0].facts.photo == str(tmp_path / "u14.jpg")
