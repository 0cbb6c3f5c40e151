"""A small slice of the trials of the log (`make logtrials` has them by the thousand), and that they can fail.

SPDX-License-Identifier: MIT
"""

import sqlite3

import pytest
from log_trials import damage, disk, kills

from sagbench.log import schema
from sagbench.log.database import Log, LogDamaged, LogError, open_log
from sagbench.log.rescue import rescue
from sagbench.log.trouble import copy_of

KILLS, DAMAGES = 10, 5


def test_killed_at_any_moment_what_was_shown_is_there(tmp_path):
    assert [lost for lost in kills.run(0, KILLS, tmp_path / "log") if lost] == []


def test_a_log_that_forgets_is_found_out(tmp_path, monkeypatch):
    """Every tenth entry is announced and not written."""
    kept = Log.add

    def forgetful(self, record, *words, **named):
        number = self._database.execute("SELECT coalesce(max(id), 0) + 1 FROM entries").fetchone()[0]
        return number if number % 10 == 3 and words else kept(self, record, *words, **named)
    monkeypatch.setattr(Log, "add", forgetful)
    assert any("is not there" in lost or "has no entry" in lost for lost in kills.run(0, 8, tmp_path / "log"))


def test_damage_is_recognised_or_harmless(tmp_path):
    outcomes = [damage.trial(number, tmp_path) for number in range(DAMAGES)]
    assert [wrong for _, wrong in outcomes if wrong] == [] and {kind for kind, _ in outcomes} == {"harmless", "recognised"}


def test_damage_that_nobody_sees_is_found_out(tmp_path, monkeypatch):
    """Without its seals the log reads a changed text as if it had been written."""
    monkeypatch.setattr(schema, "seal", lambda *values: "")
    monkeypatch.setattr(schema, "seal_of_rows", lambda rows: "")
    monkeypatch.setattr(Log, "check", lambda self: 0)
    damage.sound.cache_clear()
    try:
        before, _ = damage.sound(tmp_path)
        place = before.index(b"pin 3 was bent")

        def change(data, rng):
            data[place] ^= 1
        monkeypatch.setattr(damage, "KINDS", ((change, 1),))
        assert "nobody says so" in damage.trial(0, tmp_path)[1]
    finally:
        damage.sound.cache_clear()


@pytest.mark.parametrize("what", [b"pin 3 was bent", b"box from the attic", b"8142"])
def test_one_changed_letter_is_recognised_and_after_the_rescue_told(tmp_path, monkeypatch, what):
    before, _ = damage.sound(tmp_path)
    place = before.index(what)

    def change(data, rng):
        data[place] ^= 1
    monkeypatch.setattr(damage, "KINDS", ((change, 1),))
    assert damage.trial(0, tmp_path) == ("recognised", "")


@pytest.mark.parametrize("number", [5, 27, 175])
def test_bytes_that_are_no_text_any_more(tmp_path, number):
    """Each trial found it: SQLite's error of decoding was told as a log that cannot be used, with no way out (175: it was not told at all)."""
    assert damage.trial(number, tmp_path) == ("recognised", "")


def test_without_its_first_page_everything_is_rescued(tmp_path):
    assert damage.spoilt_first_page(tmp_path) == (damage.COUNT, damage.COUNT)


def test_a_disk_that_fills_up_or_fails_at_any_call_or_may_only_be_read():
    found = disk.run()
    assert found["lost"] == 0 and found["trials"] > 60 and found["trials"] - found["refused"] == len(disk.SENTENCES)


def test_an_older_log_is_sealed_when_it_is_opened_be_it_for_reading(tmp_path, monkeypatch):
    where = tmp_path / "log.sqlite3"
    kills.first_version(where, 3)
    with monkeypatch.context() as held:
        held.setattr("sagbench.log.database.PATIENCE_S", 0.05)
        with sqlite3.connect(where, isolation_level=None) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(LogError, match="cannot be brought up to date where it is: .* held by another"), open_log(where, write=False):
                pass
            other.execute("ROLLBACK")
    with open_log(where, write=False) as log:
        assert log.check() == 3 and [lot.name for lot in log.lots()] == ["old"]
    assert len(list(tmp_path.glob("log-version-1-*"))) == 1             # a copy of what it was
    with sqlite3.connect(where) as hurt:
        hurt.execute("UPDATE figures SET value = value + 0.001 WHERE rowid = 1")
    with open_log(where) as log, pytest.raises(LogDamaged, match="figures of entry 1"):
        log.values(1)


def test_an_older_log_can_be_rescued(tmp_path):
    where = tmp_path / "log.sqlite3"
    kills.first_version(where, 3)
    data = bytearray(where.read_bytes())
    data[:100] = bytes(100)
    where.write_bytes(data)
    assert rescue(where)[:2] == (3, 0)
    with open_log(where) as log:
        assert log.check() == 3


def test_a_rescue_waits_for_whoever_writes_and_whoever_writes_learns_of_it(tmp_path, monkeypatch):
    where = tmp_path / "log.sqlite3"
    monkeypatch.setattr("sagbench.log.rescue.PATIENCE_S", 0.05)
    with open_log(where) as log:
        log.add(kills.RECORDS[0])
        with log._writing(), pytest.raises(LogError, match="held by another program"):
            rescue(where)
        rescue(where)
        with pytest.raises(LogError, match="another was put in its place"):
            log.add(kills.RECORDS[0])
    with open_log(where) as log:
        assert log.check() == 1


def test_a_copy_that_was_cut_off_is_not_taken_for_one(tmp_path):
    """Found by a kill in the middle of a rescue: the next rescue read the half copy, and nothing was left."""
    where = tmp_path / "log.sqlite3"
    kills.spoil(where)
    kept = copy_of(where, "damaged")
    kept.write_bytes(kept.read_bytes()[:5000])
    assert rescue(where)[0] == 6
    assert kept.stat().st_size == 5000 and len(list(tmp_path.glob("log-damaged-*"))) == 2
