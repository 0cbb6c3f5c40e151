# SPDX-License-Identifier: MIT
"""`sagbench parts new NAME [--like PART]`: a file to begin with."""
from __future__ import annotations

import argparse
import json
import re
import sys
from pathlib import Path

from sagbench.errors import UsageError
from sagbench.parts import names
from sagbench.parts.markings import parse_marking
from sagbench.parts.userdir import VARIABLE, folder
from sagbench.report.safe import visible

_SCHEMA = Path(__file__).parent.parent.parent / "parts" / "part.schema.json"
_FUNCTION_LINE = re.compile(r'^\s*function\s*=.*$', re.M)
_SCHEMA_LINE = re.compile(r"^#:schema .*\n")

START = """\
function = "{function}"                 # the number without family and grade
title = "one buffer"             # what it is, in lower case: "quad 2-input NAND gate"
sources = ["memory"]             # where pinout and behaviour are from
notes = ["begun with `sagbench parts new`, not finished"]

# Names from pin 1 on, as in the data sheet; NC for a pin that is not connected.
[[pinout]]
pins = [{pins}]

# One kind of gate.  With each = ["1", "2"] it is there twice, {{}} in the names is 1, then 2.
# Outputs stand in `outputs`, `open_collector`, `tri_state` or `bidirectional`.
[[block]]
inputs = ["1A"]
outputs = ["1Y"]
logic = ["1Y = 1A"]
# Not !, and &, exclusive or ^, or |, choice c ? a : b.  Tri-state: "Y = A when !G".
# Memory: "q := D on rising CLK, clear !CLR" with "Q = q"; a latch: "q := D while LE".
# `undefined` where the data sheet leaves a level open: "Y = A ? undefined : B".
# A part with memory needs a `program`, what to apply: see LANGUAGE.md beside the schema.

# The families it was made in; their usual limits are known.  Here only what is the part's own:
# icc_ma = {{ high = [typical, maximum], low = [typical, maximum] }}, and where it is from.
[family.{family}]
# icc_ma = {{ high = [1.2, 2.4], low = [3.6, 6.6] }}
# icc_source = "memory"
"""


def run(arguments: argparse.Namespace) -> int:
    """Write the file and say where it is.  Raises UsageError; nothing is ever overwritten."""
    function, family = named(arguments.name)
    place = Path(arguments.parts_dir[-1]) if arguments.parts_dir else folder()
    if place is None:
        raise UsageError(f"there is no folder for your own parts, for {VARIABLE} is empty; set it to a folder or give --parts-dir.")
    path = place / f"{function}.toml"
    if path.exists():
        raise _there(path)
    text = _copy(arguments, function) if arguments.like else _begin(function, family, arguments.pins)
    try:
        place.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:   # x: fails if it is there
            file.write(f"#:schema {_SCHEMA}\n{text}")
    except FileExistsError:
        raise (_there(path) if path.exists() else UsageError(f"{place} is no folder; give another with --parts-dir.")) from None
    except OSError as wrong:
        raise UsageError(f"{path} cannot be written: {wrong.strerror}; give another folder with --parts-dir.") from None
    if arguments.json:
        json.dump({"file": str(path), "function": function}, sys.stdout)
        sys.stdout.write("\n")
        return 0
    sys.stdout.write(visible(f"{path}: begun; edit it, then run") + "\n" + visible(f"  sagbench parts check {path}") + "\n")
    return 0


def _there(path: Path) -> UsageError:
    return UsageError(f"{path} is there already, and nothing is overwritten; edit it, or move it away first.")


def named(text: str) -> tuple[str, str]:
    """Function and family (as in part files) of a name: a marking, or a function's number."""
    for marking in parse_marking(text):
        return marking.function, marking.family or "74"
    number = text.strip().upper()
    if not re.fullmatch(names.FUNCTION, number):
        raise UsageError(f"{text!r} is no name of a part; give a type such as 74LS04, or its number: 04, 4011, 8T26.")
    return number, "TTL" if not number.isdigit() else "4000B" if re.fullmatch(r"4\d{3,4}", number) else "LS"


def _begin(function: str, family: str, pins: int) -> str:
    row = ["1A", "1Y", *["NC"] * (pins - 4)]
    row.insert(pins // 2 - 1, "GND")
    quoted = ", ".join(f'"{name}"' for name in (*row, "VCC"))
    return START.format(function=function, family=family, pins=quoted)


def _copy(arguments: argparse.Namespace, function: str) -> str:
    from sagbench.cli.parts.doubt import defined
    from sagbench.cli.parts.show import find
    from sagbench.parts.userdir import folders
    part = find(arguments.like, folders([d for d in arguments.parts_dir if Path(d).is_dir()]))
    text = _SCHEMA_LINE.sub("", defined(part)[0].read_text(encoding="utf-8-sig"))
    return _FUNCTION_LINE.sub(f'function = "{function}"    # copied from the {part.function}; see that each line holds for it',
                              text, count=1)
