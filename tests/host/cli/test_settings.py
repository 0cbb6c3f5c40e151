"""The user's settings, and completion of what there is.

SPDX-License-Identifier: MIT
"""

import subprocess

import pytest

from sagbench.cli import settings
from sagbench.cli.completion import whole
from sagbench.cli.main import OWN, main
from sagbench.errors import PartFileError


def written(tmp_path, text):
    where = tmp_path / "settings.toml"
    where.write_text(text)
    return where


def test_where_it_is(tmp_path):
    assert settings.path({"SAGBENCH_SETTINGS": ""}) is None
    assert settings.path({"HOME": str(tmp_path), "SAGBENCH_PARTS": "/elsewhere"}).name == "settings.toml"
    assert settings.path({"XDG_CONFIG_HOME": str(tmp_path), "HOME": "/"}) == tmp_path / "sagbench" / "settings.toml"


def test_they_are_defaults_of_options(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SAGBENCH_SETTINGS", str(written(tmp_path, 'port = "/dev/nowhere"\nguard = 0.5\n')))
    settings.settings.cache_clear()
    try:
        assert main(["sweep", "7400"]) == 3 and "/dev/nowhere" in capsys.readouterr().err
        assert main(["sweep", "7400", "--port", "/dev/other"]) == 3 and "/dev/other" in capsys.readouterr().err
        monkeypatch.setenv("SAGBENCH_PORT", "/dev/variable")
        assert main(["sweep", "7400"]) == 3 and "/dev/variable" in capsys.readouterr().err
    finally:
        monkeypatch.undo()
        settings.settings.cache_clear()


@pytest.mark.parametrize("words", [["--version"], ["--help"], ["sweep", "--help"], ["lot", "-h"]])
def test_nothing_in_them_stands_in_the_way_of_help(tmp_path, monkeypatch, capsys, words):
    monkeypatch.setenv("SAGBENCH_SETTINGS", str(written(tmp_path, "port = 5\n")))
    settings.settings.cache_clear()
    try:
        with pytest.raises(SystemExit) as ended:
            raise SystemExit(main(words))
        said = capsys.readouterr()
        assert ended.value.code == 0 and "sagbench" in said.out and "settings.toml:1:1: port is 5" in said.err
    finally:
        monkeypatch.undo()
        settings.settings.cache_clear()


def test_a_screen_reader_has_lines_everywhere(tmp_path, monkeypatch):
    monkeypatch.setenv("SAGBENCH_SETTINGS", str(written(tmp_path, "lines = true\nsmall = true\n")))
    settings.settings.cache_clear()
    try:
        assert all(whole().parse_args([verb, "74LS00"]).lines for verb in ("lot", "soak", "hold"))
    finally:
        monkeypatch.undo()
        settings.settings.cache_clear()
    assert not any(whole().parse_args([verb, "74LS00"]).lines for verb in ("lot", "soak", "hold"))


@pytest.mark.parametrize(("text", "told"), [
    ("port = 5\n", ["settings.toml:1:1: port is 5; it must be a text"]),
    ("guard = 11\nprot = 'x'\n", ["settings.toml:1:1: guard is 11", "settings.toml:2:1: there is no setting prot; there are port"]),
    ("silent = 1\nsmall = 'no'\n", ["settings.toml:1:1: silent is 1", "settings.toml:2:1: small is 'no'"]),
    ("port = \n", ["settings.toml:1:8"]),
    ("guard = true\n", ["it must be a number"]),
    ("parts_dirs = [1]\n", ["a list of folders"]),
])  # fmt: skip
def test_every_mistake_has_its_line(tmp_path, text, told):
    with pytest.raises(PartFileError) as wrong:
        settings.read(written(tmp_path, text))
    lines = str(wrong.value).split("\n")
    assert len(lines) == len(told) and all(word in line for word, line in zip(told, lines, strict=True))


def test_completion_knows_every_verb_and_its_options(capsys):
    assert main(["completion", "bash"]) == 0
    script = capsys.readouterr().out
    assert subprocess.run(["bash", "-n"], input=script, text=True, check=False).returncode == 0
    assert all(verb in script for verb in (*OWN, "sweep", "report")) and "--until-fault" in script and "selftest" in script
    assert {*OWN} <= {*whole()._subparsers._group_actions[0].choices}
