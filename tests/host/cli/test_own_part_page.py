# SPDX-License-Identifier: MIT
"""YOUR-OWN-PART.md is carried out: its files are written, its commands run, their output compared.

Only `sagbench sweep`, which needs a fixture, is not run; the record it would leave is that of a paper chip that is
what the page's last file says.
"""
import os
import re
import shlex
import subprocess
import sys
from importlib import resources

from host.cli import paper_chip
from sagbench.parts import load_file, load_part
from sagbench.report.codec import to_json

PAGE = (resources.files("sagbench.parts") / "YOUR-OWN-PART.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)


def commands(block):
    """(command, expected output) pairs of a console block."""
    for part in re.split(r"^\$ ", block, flags=re.M)[1:]:
        command, _, output = part.partition("\n")
        yield command, output


def matches(output, expected):
    """Equal, but for lines `...`, which stand for any lines."""
    pattern = "".join(r"(?:.*\n)*" if line == "..." else re.escape(line) + r"\n" for line in expected.splitlines())
    return re.fullmatch(pattern, output)


def chip_record(folder):
    """The paper chip: what the page's last file defines, tested as what stands in the folder."""
    last = [text for kind, text in BLOCK.findall(PAGE) if kind == "toml"][-1]
    (folder / "truth.toml").write_text(last)
    return to_json(paper_chip.record(load_part("74ALS1034", user_dirs=[folder / "parts"]), load_file(folder / "truth.toml")))


def test_every_command_of_the_page_does_what_it_says(tmp_path):
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "SAGBENCH_PARTS", "XDG_CONFIG_HOME")}
    environment |= {"HOME": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    ran = []
    for kind, text in BLOCK.findall(PAGE):
        if kind == "toml":
            name, _, content = text.partition("\n")
            (tmp_path / name.removeprefix("# ")).write_text(content)
        if kind == "sh":
            (tmp_path / "chip.json").write_text(chip_record(tmp_path))
        for command, expected in commands(text) if kind == "console" else ():
            words = shlex.split(command)
            if words[0] == "export":
                environment |= [words[1].split("=", 1)]
                continue
            assert words.pop(0) == "sagbench"
            done = subprocess.run([sys.executable, "-m", "sagbench", *words], cwd=tmp_path, env=environment,
                                  capture_output=True, text=True, timeout=60)
            assert done.stderr == "" and matches(done.stdout, expected), f"{command}\n{done.stdout}{done.stderr}"
            ran.append((words[1], done.returncode))
    assert ran == [("new", 0), ("check", 2), ("check", 0), ("show", 0), ("doubt", 1), ("find", 0)]


def test_the_page_can_fail():
    assert not matches("one\ntwo\n", "one\n...\nthree\n") and matches("one\ntwo\nthree\n", "one\n...\nthree\n")
