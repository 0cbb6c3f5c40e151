# SPDX-License-Identifier: MIT
"""`sagbench parts show PART`: all that is known of one part."""
from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from sagbench.cli.parts.doubt import defined
from sagbench.errors import UnknownPart
from sagbench.parts.model import Part
from sagbench.parts.userdir import folders
from sagbench.report.safe import ascii_only, visible


def run(arguments: argparse.Namespace) -> int:
    """Raises UsageError if there is no such part or its file has mistakes."""
    from sagbench.cli.parts.seating import where
    from sagbench.doubt.statements import lines as statements
    from sagbench.parts.definition import PLAIN
    from sagbench.parts.lookup import load_file
    from sagbench.report.partsheet import sheet
    from sagbench.vectors.report import report_on
    part = find(arguments.part, folders(arguments.parts_dir))
    path, definition = defined(part)
    test = report_on(part, definition)
    if arguments.json:
        json.dump(as_json(part, path, test), sys.stdout, indent=1)
        sys.stdout.write("\n")
        return 0
    clean = ascii_only if arguments.plain else str
    said = statements(path, part.family or PLAIN)
    for line in sheet(part, definition, said, test, names(part, load_file(path).families), where(part)):
        sys.stdout.write(clean(visible(line)) + "\n")
    return 0


def find(text: str, folders: list[str]) -> Part:
    """The part with this marking; a bare function's number stands for the first family it was made in."""
    from sagbench.parts import load_part
    from sagbench.parts.lookup import file_names, load_file
    from sagbench.parts.names import type_name
    from sagbench.parts.ratings import ORDER
    try:
        return load_part(text, user_dirs=folders)
    except UnknownPart:
        path = file_names(map(Path, folders)).get(text.strip().upper())
        if path is None:
            raise
        first = min(load_file(path).families, key=ORDER.index)
        return load_part(type_name(text.strip().upper(), first), user_dirs=folders)


def names(part: Part, families: Any) -> list[str]:
    """Full names of its function in all families."""
    from sagbench.parts.names import type_name
    from sagbench.parts.ratings import ORDER
    return [type_name(part.function, family) for family in sorted(families, key=ORDER.index)
            if family != (part.family or "74")]


def as_json(part: Part, path: Path, test: Any) -> dict[str, Any]:
    """For a script: the part as the program has it, volts and amperes, and its test's figures."""
    from sagbench.vectors.pinfaults import Kind
    told: dict[str, Any] = asdict(part)
    told["file"] = str(path)
    told["limits"] = {str(number): asdict(limits) for number, limits in part.limits.items()}
    told["sequence"] = [_step(step) for step in part.sequence]
    for state, made in zip(part.supply_states, told["supply_states"], strict=True):
        made["steps"] = [_step(step) for step in state.steps]
    told["test"] = {"steps": test.steps, "checks": test.checks, "seconds": round(test.seconds, 4),
                    "percent": {kind.name.lower(): round(test.percent(kind), 3) for kind in Kind},
                    "missed": {str(fault): reason for fault, reason in test.reasons.items()}}
    return told


def _step(step: Any) -> dict[str, Any]:
    return {"set": {str(pin): level for pin, level in step.set.items()},
            "expect": {str(pin): expect.value for pin, expect in step.expect.items()},
            "pulses": {str(pin): count for pin, count in step.pulses.items()}, "note": step.note}
