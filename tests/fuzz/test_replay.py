"""What fuzzing has found worth keeping, read again; and that the fuzzer is guided. `make fuzz` goes on from here."""
from __future__ import annotations

import random
from pathlib import Path

import pytest

from fuzz import host, tally
from fuzz.firmware import told
from fuzz.host_run import Hang, changed, fuzz
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
    done, broke, how = fuzz(TARGETS[target], seeds(target).values(), runs, 1, host.LONGEST.get(target, 4000), target in host.TEXTUAL)
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


def test_changes_are_the_same_again() -> None:
    corpus = [b"abc", b"0123456789" * 3]
    some, again = ([changed(random.Random(seed), corpus, True) for seed in range(50)] for _ in range(2))
    assert some == again and len(set(some)) > 40


# ------------------------------------------------------------------ the tally
def test_the_tally_counts_what_was_run_and_survives_a_cut_line(tmp_path: Path) -> None:
    for executions in (100, 50):
        tally.keep(tally.Chunk("a", executions, 1.0, 7, commit="x"), tmp_path)
    tally.keep(tally.Chunk("b", 1, 1.0, crashes=["crash-1"], commit="y"), tmp_path)
    with (tmp_path / "tally.jsonl").open("a") as file:
        file.write('{"target": "a", "exec')
    chunks = tally.kept(tmp_path)
    assert tally.done(chunks, "a") == 150 and tally.done(chunks, "b") == 1
    page = tally.page(chunks, "make fuzz")
    assert "| a | 150 | 0 | 7 |" in page and "| b | 1 | 1 |" in page


def test_inputs_that_were_only_read_in_do_not_count() -> None:
    """Figures of libFuzzer's own report (LLVM documentation, "libFuzzer", Output)."""
    text = "#100\tINITED cov: 11 ft: 12\n#300\tDONE   cov: 15 ft: 20\nDone 300 runs in 4 second(s)\nstat::number_of_executed_units: 300\n"
    assert told(text) == (200, 4.0, 15)
    with pytest.raises(RuntimeError, match="did not run"):
        told("clang: error")
