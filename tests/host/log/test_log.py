"""The log: what is kept stays kept, and what goes wrong is told with the way out.

SPDX-License-Identifier: MIT
"""

import os
import shutil
import sqlite3
import subprocess
import sys
from dataclasses import replace

import pytest
from host.report import examples

from sagbench.log import schema
from sagbench.log.database import Facts, Log, LogDamaged, LogError, Query, open_log
from sagbench.log.rescue import rescue
from sagbench.record import Verdict

SOUND, WEAK = examples.sound_inverter(), examples.weak_gate()


@pytest.fixture
def where(tmp_path):
    return tmp_path / "log.sqlite3"


def filled(where, count=20):
    with open_log(where) as log:
        for n in range(count):
            log.add(SOUND if n % 3 else WEAK, Facts(board="CPU", position=f"U{n}", date_code="8142"), library="library")
    return where


def test_a_record_comes_back_whole(where):
    with open_log(where) as log:
        one = log.add(SOUND, Facts(board="CPU", position="U14", note="socket was green"), library="library 1234")
        two = log.add(WEAK)
    with open_log(where, write=False) as log:
        assert (log.record(one), log.record(two)) == (SOUND, WEAK)
        entry = log.entry(one)
        assert (entry.part, entry.verdict, entry.facts.position, entry.library) == (SOUND.part, "sound", "U14", "library 1234")
        assert log.entry(two).reason == WEAK.reasons[0].sentence


def test_questions(where):
    filled(where)
    with open_log(where, write=False) as log:
        assert [e.id for e in log.entries(Query(position="u7"))] == [8]
        assert len(log.entries(Query(board="cpu", date_code="8142"))) == 20
        assert len(log.entries(Query(part=WEAK.part))) == 7 and log.entries(Query(board="VIDEO")) == []
        assert {e.verdict for e in log.entries(Query(verdict="NOT SOUND"))} == {"not sound"}


def test_nothing_is_deleted(where):
    filled(where, 3)
    with open_log(where) as log:
        log.take_back(2)
        assert [e.id for e in log.entries()] == [1, 3]
        assert [e.id for e in log.entries(Query(undone=True))] == [1, 2, 3] and log.entry(2).undone
        assert log.record(2) == SOUND
        log.bring_back(2)
        assert [e.id for e in log.entries()] == [1, 2, 3]


def test_of_several_measurements_of_one_chip_one_counts(where):
    """1 measured again as 3, and that as 4; 2 is another chip."""
    filled(where, 2)
    with open_log(where) as log:
        assert [log.add(SOUND, again=1), log.add(SOUND, again=3)] == [3, 4]

        def counting():
            return [e.id for e in log.entries()]
        assert counting() == [2, 4]
        assert log.take_back(4) == [3] and counting() == [2, 3]
        assert log.take_back(3) == [1] and counting() == [1, 2]
        assert log.bring_back(4) == [1] and counting() == [2, 4]
        assert log.take_back(3) == [] and counting() == [2, 4], "it did not count"
        assert log.bring_back(1) == [4] and counting() == [1, 2]
        assert log.take_back(1) == [] and log.take_back(2) == [] and counting() == []


def test_taken_back_and_counting_again_are_one_moment(where, monkeypatch):
    """A disk that is full between the two leaves both as they were."""
    filled(where, 1)
    with open_log(where) as log:
        log.add(SOUND, again=1)
        kept, calls = Log._set, []

        def second_fails(self, number, columns):
            calls.append(number)
            if len(calls) == 2:
                raise sqlite3.OperationalError("database or disk is full")
            kept(self, number, columns)
        monkeypatch.setattr(Log, "_set", second_fails)
        with pytest.raises(LogError):
            log.take_back(2)
        assert calls == [2, 1] and [e.id for e in log.entries()] == [2]


def test_more_is_said_later(where):
    filled(where, 1)
    with open_log(where) as log:
        log.describe(1, position="U99", note="pin 3 bent")
        assert (log.entry(1).facts.position, log.entry(1).facts.board, log.entry(1).facts.note) == ("U99", "CPU", "pin 3 bent")
        with pytest.raises(LogError, match=r"no entry 7; its numbers go from 1 to 1"):
            log.describe(7, note="x")


def test_lots(where):
    with open_log(where) as log:
        lot = log.begin_lot("box from the attic", "74LS00")
        log.add(SOUND, lot=lot)
        assert log.lot(lot).ended is None
        log.end_lot(lot)
        assert log.lot(lot).ended and [e.lot for e in log.entries(Query(lot=lot))] == [lot]
        with pytest.raises(LogError, match="no lot 9"):
            log.lot(9)


# ------------------------------------------------------------------ what goes wrong
def test_there_is_no_log_yet(where):
    with pytest.raises(LogError, match="no log yet"), open_log(where, write=False):
        pass


def test_a_file_of_another_program_is_left_alone(where):
    other = sqlite3.connect(where)
    other.execute("CREATE TABLE stamps (country)")
    other.close()
    before = where.read_bytes()
    with pytest.raises(LogError, match="another program"), open_log(where):
        pass
    assert where.read_bytes() == before


def test_a_newer_log_is_left_alone(where):
    filled(where, 1)
    newer = sqlite3.connect(where)
    newer.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    newer.close()
    with pytest.raises(LogError, match="newer sagbench"), open_log(where):
        pass


def test_migrations_go_on_from_where_a_log_is(where):
    filled(where, 4)
    database = sqlite3.connect(where, isolation_level=None)
    later = (*schema.MIGRATIONS, "ALTER TABLE entries ADD COLUMN humidity TEXT NOT NULL DEFAULT '';")
    schema.migrate(database, later)
    assert schema.version(database) == len(later)
    assert database.execute("SELECT count(humidity) FROM entries").fetchone() == (4,)
    with pytest.raises(sqlite3.OperationalError):
        schema.migrate(database, (*later, "ALTER TABLE nothing ADD COLUMN x;"))
    database.rollback()
    assert schema.version(database) == len(later)
    database.close()


def test_no_space_is_told_and_what_was_kept_stays(where):
    filled(where, 3)
    with open_log(where) as log:
        pages = log._database.execute("PRAGMA page_count").fetchone()[0]
        log._database.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(LogError, match="no space left"):
            for _ in range(20):
                log.add(WEAK)
    with open_log(where) as log:
        assert all(log.record(e.id) for e in log.entries())
        log.add(WEAK)


def test_a_file_in_the_way_of_the_folder(tmp_path):
    (tmp_path / "data").write_text("in the way")
    with pytest.raises(LogError, match="cannot be made"), open_log(tmp_path / "data" / "log.sqlite3"):
        pass


def test_a_log_that_another_program_holds(where, monkeypatch):
    monkeypatch.setattr("sagbench.log.database.PATIENCE_S", 0.05)
    filled(where, 1)
    other = sqlite3.connect(where, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(LogError, match="another program; end that one"), open_log(where) as log:
        log.add(SOUND)
    other.execute("ROLLBACK")
    other.close()
    with open_log(where) as log:
        assert log.add(SOUND) == 2


def test_two_programs_lose_nothing_of_each_other(where):
    filled(where, 0)
    code = ("import sys; from pathlib import Path; from host.report import examples; from sagbench.log.database import open_log\n"
            "for _ in range(25):\n"
            "    with open_log(Path(sys.argv[1])) as log: log.add(examples.sound_inverter())\n")  # fmt: skip
    both = [subprocess.Popen([sys.executable, "-c", code, str(where)]) for _ in range(2)]
    assert [one.wait(120) for one in both] == [0, 0]
    with open_log(where, write=False) as log:
        assert [e.id for e in log.entries()] == list(range(1, 51))


@pytest.mark.parametrize("hurt", [
    lambda data: b"nothing of the kind" * 100,
    lambda data: data[: len(data) // 2],
    lambda data: data[:8192] + bytes(4096) + data[12288:],
    lambda data: data[:60] + bytes(3000) + data[3060:],
])  # fmt: skip
def test_damage_is_recognised_and_a_copy_kept_and_the_rest_rescued(where, hurt):
    filled(where, 12)
    where.write_bytes(hurt(where.read_bytes()))
    damaged = where.read_bytes()
    with pytest.raises(LogDamaged, match="sagbench log rescue") as told, open_log(where):
        pass
    kept = next(where.parent.glob("log-damaged-*.sqlite3"))
    assert kept.name in str(told.value) and kept.read_bytes() == damaged == where.read_bytes()
    good, lost, old = rescue(where)
    assert old.read_bytes() == damaged
    with open_log(where) as log:
        found = log.entries()
        assert len(found) == good <= 12
        assert all(log.record(e.id) in (SOUND, WEAK) for e in found)
        log.add(SOUND)


def test_rescue_reads_what_is_beyond_a_bad_page(where):
    filled(where, 30)
    data = bytearray(where.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 4096] = os.urandom(4096)
    where.write_bytes(data)
    good, _, _ = rescue(where)
    assert good >= 20
    with open_log(where, write=False) as log:
        assert max(e.id for e in log.entries()) == 30


def test_a_log_on_a_read_only_disk_can_be_read(where):
    filled(where, 2)
    copy = where.with_name("copy.sqlite3")
    shutil.copy(where, copy)
    copy.chmod(0o444)
    with open_log(copy, write=False) as log:
        assert len(log.entries()) == 2
        with pytest.raises(LogError, match="cannot be written"):
            log.take_back(1)


def test_verdicts_in_the_log_are_those_of_records(where):
    with open_log(where) as log:
        for verdict in Verdict:
            log.add(replace(SOUND, verdict=verdict))
        assert [e.verdict for e in log.entries()] == [v.value for v in Verdict]
