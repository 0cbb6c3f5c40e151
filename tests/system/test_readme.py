"""What the README shows of the demo's report is what the program says.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import re
from pathlib import Path

from demo.__main__ import CHIPS, HERE
from rig import ROOT, sagbench, virtual_port


def words(text: str) -> str:
    """Without figures: the controller's noise moves their last digits with the moment at which the host speaks."""
    return re.sub(r"\d+(\.\d+)?", "#", " ".join(text.split()))


def test_the_report_on_the_first_page(tmp_path: Path) -> None:
    record = tmp_path / "record.json"
    with virtual_port(HERE / "tired.toml", 21 + list(CHIPS).index("tired")) as port:
        done = sagbench("sweep", "SN74LS00N", "--port", port, "--json", str(record))
    shown = re.search(r"```\n(VERDICT: .*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    assert shown and words(shown[1]) in words(done.stdout)
    told = json.loads(record.read_text(encoding="utf-8"))
    assert all(m["value"]["u"] < 1 for m in told["measured"] if m["value"]["unit"] == "V"), "no noise margin from a level that is none"
