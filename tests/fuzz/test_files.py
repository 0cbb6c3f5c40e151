"""A slice of the spoilt files (`make fuzz` reads them by the thousand), what watches over them, and what means harm.

Outside: Python's audit events (PEP 578) say what was opened and started, html.parser what a page holds, jsonschema what a record is.
"""
from __future__ import annotations

import os
import subprocess
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from fuzz import files, guard
from fuzz.mutate import HARM, spoil
from fuzz.readers import CHIPS, KINDS_OF_FILES, LIBRARY, Kind, Said, harm_in_page, part
from host.report import examples
from sagbench.report.page import to_html

SLICE = 70


def test_a_slice_of_spoilt_files_is_read_as_it_should_be() -> None:
    chunk, faults = files.run(0, SLICE)
    assert [str(fault) for fault in faults] == []
    assert chunk.counts["accepted"] >= 5 and chunk.counts["refused with file and line"] >= 30


def test_what_is_spoilt_is_the_same_again_and_mostly_another_file() -> None:
    seed = (LIBRARY / "00.toml").read_bytes()
    some = [spoil(seed, "part 00", n) for n in range(100)]
    assert some == [spoil(seed, "part 00", n) for n in range(100)]
    assert len(set(some)) > 85 and some.count(seed) < 15


@pytest.mark.parametrize(("read", "what"), [
    (lambda path: 1 / 0, "traceback"),
    (lambda path: Said(False, "there is something wrong with it"), "place"),
    (lambda path: Said(False, f"{path}:999999: found something"), "place"),
    (lambda path: Said(False, "sagbench: a mistake in sagbench itself (KeyError)"), "traceback"),
    (lambda path: Said(True, "", "its referee refuses it"), "referee"),
    (lambda path: path.unlink() or Said(True, ""), "lost"),
    (lambda path: (path.parent / "left behind").touch() or Said(True, ""), "lost"),
    (lambda path: Path("/etc/passwd").read_text() and Said(True, ""), "reach"),
    (lambda path: os.system("true") or Said(True, ""), "reach"),
    (lambda path: subprocess.run(["true"], check=True) and Said(True, ""), "reach"),
    (lambda path: exec(compile("print(1)", "<equations>", "exec"), {"print": id}) or Said(True, ""), "reach"),
], ids=range(11))
def test_a_reader_that_does_wrong_is_found_out(read: Any, what: str) -> None:
    kind = Kind("part", "x.toml", lambda: {"00": b"a = 1\n"}, read)
    _, faults = files.one(kind, 3)
    assert what in {fault.what for fault in faults}, faults


def test_a_reader_that_never_ends_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "PATIENCE_S", 0.2)

    def forever(path: Path) -> Said:
        while True:
            pass

    _, faults = files.one(Kind("part", "x.toml", lambda: {"00": b"a = 1\n"}, forever), 3)
    assert [fault.what for fault in faults] == ["hang"]


# ------------------------------------------------------------------ what means harm
GOOD = (LIBRARY / "00.toml").read_text()


@pytest.mark.parametrize("harm", HARM, ids=range(len(HARM)))
def test_an_equation_runs_nothing_and_reads_nothing(harm: str, tmp_path: Path) -> None:
    """In the place of an equation, and within one: refused with its place, or taken for what it says; nothing is started."""
    toml = harm.encode("unicode_escape").decode().replace("\\x", "\\u00").replace('"', '\\"') if harm.isascii() else harm
    path = tmp_path / "1034.toml"
    for equation in (toml, "{}Y = " + toml, "{}Y = !({}A & " + toml + ")"):
        path.write_text('function = "1034"\ntitle = "x"\n[[pinout]]\npins = ["1A", "1Y", "GND", "VCC"]\n[[block]]\neach = ["1"]\n'
                        f'inputs = ["{{}}A"]\noutputs = ["{{}}Y"]\nlogic = ["{equation}"]\n[family.LS]\n', encoding="utf-8")
        with guard.watched(tmp_path, files.ROOT) as seen:
            said = part(path)
        assert seen == [] and not said.wrong, (seen, said)
        assert said.taken or f"{path}:" in " ".join(said.text.split()), said.text
    assert not Path("PWNED").exists() and not (tmp_path / "PWNED").exists()


@pytest.mark.parametrize("name", ["../../../../../etc/passwd", "/etc/passwd", "..", "00/../00", "../sources", "~root", "00.toml"])
def test_a_part_like_another_reads_the_library_only(name: str, tmp_path: Path) -> None:
    path = tmp_path / "1034.toml"
    path.write_text(f'function = "1034"\ntitle = "x"\nlike = "{name}"\n[family.LS]\n')
    with guard.watched(tmp_path, files.ROOT) as seen:
        said = part(path)
    assert seen == [] and not said.taken and f"{path}:3:" in " ".join(said.text.split())


def _with(record: Any, text: str) -> Any:
    """The record with that in the place of every text, deep down; words of an enumeration stay."""
    if isinstance(record, str):
        return text if type(record) is str else record
    if isinstance(record, tuple):
        return tuple(_with(one, text) for one in record)
    if isinstance(record, dict):
        return {key: _with(one, text) for key, one in record.items()}
    if is_dataclass(record) and not isinstance(record, type):
        kept = ("unit", "limit_kind", "direction", "role", "expected", "made", "started", "date")
        return replace(record, **{f.name: _with(getattr(record, f.name), text) for f in fields(record) if f.init and f.name not in kept})
    return record


MARKUP = [h for h in HARM if set(h) & set("<>\"'&{")]


@pytest.mark.parametrize("harm", MARKUP, ids=range(len(MARKUP)))
def test_no_text_of_a_record_becomes_script(harm: str) -> None:
    for make in (examples.ALL["weak_gate"], examples.ALL["not_seated"]):
        page = to_html(_with(make(), harm))
        assert harm_in_page(page) == ""


def test_script_in_a_page_would_be_seen() -> None:
    for page in ("<p><script>x</script>", "<img src=x>", '<p onclick="x">', "<a href='javascript:x'>", "<svg><use xlink:href='x'/></svg>"):
        assert harm_in_page(page)


def test_every_kind_of_file_has_good_examples() -> None:
    for kind in KINDS_OF_FILES:
        assert all(len(data) > 20 for data in kind.seeds().values()), kind.name
    assert CHIPS.is_dir()
