"""Every command of the user's guide does what the guide says.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from pathlib import Path

from guide_run import GUIDE, commands, run


def test_every_command_of_the_guide(tmp_path: Path) -> None:
    ran = []
    for command, done in run(tmp_path):
        ran.append(command)
        assert done.returncode == command.code, f"{command.words}: {done.returncode}\n{done.stdout[-1500:]}\n{done.stderr[-1500:]}"
        assert "Traceback" not in done.stderr
        if command.words[1] == "hold":
            assert done.stdout.count("POWER ON") >= 3 and "in: high" in done.stdout
        if command.words[1:3] == ("log", "list"):
            assert "U14" in done.stdout and "not sound" in done.stdout
    assert ran == commands(GUIDE.read_text(encoding="utf-8")) and len(ran) >= 15
    assert {"u14.html", "u14.json", "chips.csv", "chips.html", "soak.html"} <= {path.name for path in tmp_path.iterdir()}
