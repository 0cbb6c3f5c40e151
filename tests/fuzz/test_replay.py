"""What fuzzing has found worth keeping, read again; and that the fuzzer is guided. `make fuzz` goes on from here."""
from __future__ import annotations

import json
import random
from functools import partial
from pathlib import Path

import pytest

from fuzz import firmware, host, host_run, tally
from fuzz.__main__ import until
from fuzz.firmware import told
from fuzz.host_run import Hang, changed, edges, fuzz
from fuzz.host_seeds import seeds
from fuzz.host_targets import TARGETS


@pytest.mark.parametrize("target", TARGETS)
def test_kept_inputs_and_good_examples(target: str) -> None:
    kept = sorted((host.CORPUS / target).iterdir())
    assert kept and sum(f.stat().st_size for f in kept) < 40_000
    for data in (b"", *(f.read_bytes() for f in kept), *seeds(target).values()):
        TARGETS[target](data)


@pytest.mark.parametrize("target", TARGETS)
def test_a_slice(target: str) -> None:
    """Some changed inputs, by the same code as the long run."""
    runs = 3 if target in ("part", "statements") else 100
    done, broke, how = fuzz(TARGETS[target], seeds(target).values(), runs, 1, host.LONGEST.get(target, 4000), target in host.TEXTUAL,
                            tree=target in host.TREES)
    assert broke is None, how
    assert done == runs


def _deep(data: bytes) -> None:
    if data[:1] == b"F":
        if data[1:2] == b"u":
            if data[2:3] == b"z":
                if data[3:4] == b"9":
                    raise ValueError("found")


def test_coverage_guides() -> None:
    """Four bytes one after the other: by chance alone one in 4,000,000,000 inputs, here some tens of thousands."""
    edges().forget()    # what other tests of this process reached shares its counters with these few lines
    done, broke, how = fuzz(_deep, [b"aaaa"], 300_000, 5, 4, False)
    assert broke is not None and broke[:4] == b"Fuz9" and "found" in how
    assert done < 300_000


def test_an_input_without_end_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fuzz.host_run.PATIENCE_S", 0.2)

    def forever(data: bytes) -> None:
        while data:
            pass

    done, broke, how = fuzz(forever, [b""], 10, 1, 10, False)
    assert broke and Hang.__name__ in how and done < 10


@pytest.mark.parametrize(("corpus", "tree"), [([b"abc", b"0123456789" * 3], False), ([b'{"a": [1, 2.5, {"b": "c"}], "d": null}'], True)])
def test_changes_are_the_same_again(corpus: list[bytes], tree: bool) -> None:
    some, again = ([changed(random.Random(seed), corpus, True, tree) for seed in range(50)] for _ in range(2))
    assert some == again and len(set(some)) > 40


def test_json_mostly_stays_json() -> None:
    def is_json(data: bytes) -> bool:
        try:
            return isinstance(json.loads(data), dict | list)
        except (ValueError, RecursionError):
            return False

    corpus = [b'{"a": [1, 2.5, {"b": "c"}], "d": null, "e": [[7]]}']
    some = [changed(random.Random(seed), corpus, True, True) for seed in range(300)]
    assert 150 < sum(map(is_json, some)) < 290


def test_each_reader_has_its_share() -> None:
    assert set(host.SHARES) == set(TARGETS) and sum(host.SHARES.values()) == 1000
    assert min(host.SHARES.values()) * tally.AIMS["host"] // 1000 >= 10_000


# ------------------------------------------------------------------ the firmware's
@pytest.mark.parametrize(("name", "program", "crash"), [
    ("timeout-1", "#!/bin/sh\nexit 0\n", False), ("slow-unit-1", "#!/bin/sh\nexit 1\n", True),
    ("timeout-2", "#!/bin/sh\nwhile :; do :; done\n", True), ("crash-1", "#!/bin/sh\nexit 0\n", True)])
def test_an_input_that_had_to_wait_for_the_machine_is_no_crash(name: str, program: str, crash: bool, tmp_path: Path,
                                                               monkeypatch: pytest.MonkeyPatch) -> None:
    """What the fuzzer found slow is tried again by the processor's time; what it found broken is broken."""
    (tmp_path / "device").write_text(program)
    (tmp_path / "device").chmod(0o755)
    monkeypatch.setattr(firmware, "PROGRAM", tmp_path / "device")
    monkeypatch.setattr(firmware, "PATIENCE_S", 1)
    kept = tmp_path / "crash" / name
    kept.parent.mkdir()
    kept.write_bytes(b"x")
    assert firmware.breaks(kept) == crash == kept.exists()
    assert crash or (tmp_path / "slow" / name).exists()


# ------------------------------------------------------------------ the tally
def test_the_tally_counts_what_was_run_and_survives_a_cut_line(tmp_path: Path) -> None:
    for executions in (100, 50):
        tally.keep(tally.Chunk("a", executions, 1.0, 7, commit="x"), tmp_path)
    tally.keep(tally.Chunk("b", 1, 1.0, crashes=["crash-1"], commit="y"), tmp_path)
    with (tmp_path / "tally.jsonl").open("a") as file:
        file.write('{"target": "a", "exec')
    tally.keep(tally.Chunk("c", 600, 9.0, processor=2.0), tmp_path)
    chunks = tally.kept(tmp_path)
    assert tally.done(chunks, "a") == 150 and tally.done(chunks, "b") == 1
    page = tally.page(chunks, "make fuzz", tmp_path)
    assert "| a | 150 | 0 | 0 | 7 |" in page and "| b | 1 | 1 | 1 |" in page and "| c | 600 | 0 | 0 | - | 300 |" in page


def test_a_crash_that_is_mended_is_told_and_no_longer_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for kept in (tmp_path / "firmware/crash/crash-1", tmp_path / "firmware/crash/crash-2", tmp_path / "host/part/crash/abc"):
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_bytes(kept.name.encode())
    (tmp_path / "host/part/crash/abc.txt").write_text("Traceback")
    chunks = [tally.Chunk("firmware core", 1, 1.0, crashes=["crash-1", "crash-2"]), tally.Chunk("host: part", 1, 1.0, crashes=["abc"])]
    assert tally.left(chunks, tmp_path) == {"crash-1", "crash-2", "abc"}
    (tmp_path / "device").write_text('#!/bin/sh\ncase "$2" in *crash-2) exit 77;; esac\n')
    (tmp_path / "device").chmod(0o755)
    monkeypatch.setattr(firmware, "PROGRAM", tmp_path / "device")
    firmware.again(tmp_path)
    host_run.again(_deep, tmp_path / "host/part/crash")
    assert tally.left(chunks, tmp_path) == {"crash-2"}
    assert (tmp_path / "firmware/mended/crash-1").exists() and (tmp_path / "host/part/mended/abc.txt").exists()
    assert "| firmware core | 1 | 2 | 1 |" in tally.page(chunks, "make fuzz", tmp_path)
    (tmp_path / "host/part/crash/abc").write_bytes(b"Fuz9")
    host_run.again(_deep, tmp_path / "host/part/crash")
    assert tally.left(chunks, tmp_path) == {"crash-2", "abc"}


def test_a_stopped_run_goes_on_and_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tally, "OUT", tmp_path)
    for name in ("keep", "kept"):
        monkeypatch.setattr(tally, name, partial(getattr(tally, name), out=tmp_path))
    asked: list[tuple[int, int]] = []

    def run(number: int, size: int) -> tally.Chunk:
        if len(asked) == 2:
            asked.append((-1, -1))
            raise KeyboardInterrupt
        asked.append((number, size))
        return tally.Chunk("x", size - 1 if size > 1 else 1, 1.0)

    with pytest.raises(KeyboardInterrupt):
        until("x", 250, 100, run)
    until("x", 250, 100, run)
    assert asked == [(0, 100), (1, 100), (-1, -1), (2, 52), (3, 1)]
    assert tally.done(tally.kept(), "x") == 250
    with pytest.raises(RuntimeError, match="ran no input"):
        until("x", 300, 100, lambda number, size: tally.Chunk("x", 0, 1.0))


def test_inputs_that_were_only_read_in_do_not_count() -> None:
    """Figures of libFuzzer's own report (LLVM documentation, "libFuzzer", Output)."""
    text = "#100\tINITED cov: 11 ft: 12\n#300\tDONE   cov: 15 ft: 20\nDone 300 runs in 4 second(s)\nstat::number_of_executed_units: 300\n"
    assert told(text) == (200, 4.0, 15)
    with pytest.raises(RuntimeError, match="did not run"):
        told("clang: error")
