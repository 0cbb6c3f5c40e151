# SPDX-License-Identifier: MIT
"""`sagbench explain RUN.json QUANTITY [PIN]`: where the uncertainty of a figure comes from."""
from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from sagbench.cli import options
from sagbench.errors import UsageError
from sagbench.record import Measured, SweepRecord

EXAMPLES = """\
examples:
  sagbench sweep 7400 --json chip.json
  sagbench explain chip.json VOL 3
  sagbench explain chip.json ICC
  sagbench explain chip.json "VT+" 1
"""


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench explain", epilog=EXAMPLES, formatter_class=options.Help,
        description="Show what the uncertainty of a measured figure is made of, and which calibration would narrow it.")
    parser.add_argument("record", metavar="FILE", help="a record written by `sagbench sweep --json`; - for standard input")
    parser.add_argument("quantity", metavar="QUANTITY", nargs="?", help="VOL, VOH, ICC, IIL ...; without it, all there are")
    parser.add_argument("pin", metavar="PIN", nargs="?", help="number or name of a pin; without it, every pin in one line")
    parser.add_argument("--plain", action="store_true", help="ASCII only")
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `explain`; 0, or an error of the tree."""
    from sagbench.cli.show import read_record
    from sagbench.plan.fixture import load_fixture
    from sagbench.report import explain
    from sagbench.report.safe import ascii_only, visible

    arguments = build_parser().parse_args(list(words))
    record = read_record(arguments.record)
    known = explain.names(record)
    if not known:
        raise UsageError(f"{arguments.record} has no measured figures: it is from an older version, or nothing was measured.")
    if arguments.quantity is None:
        lines = [f"{name:<12} {_pins(record, name)}" for name in known]
    else:
        pin = None if arguments.pin is None else _pin(record, arguments.pin)
        found = explain.choose(record, arguments.quantity, pin)
        if not found:
            raise UsageError(_nothing(record, arguments.quantity, arguments.pin, known))
        alone = pin is not None or not any(m.pin for m in found)
        designators = load_fixture(record.fixture.name).raw["designator"]
        lines = (
            list(explain.budgets(record, found, designators))
            if alone
            else [*(explain.title(record, m) for m in found), "", "Give a pin to see one budget."]
        )
    for line in lines:
        sys.stdout.write((ascii_only if arguments.plain else visible)(line) + "\n")
    return 0


def _pins(record: SweepRecord, name: str) -> str:
    of = [m.pin for m in _of(record, name)]
    return "chip" if not any(of) else "pins " + " ".join(str(p) for p in dict.fromkeys(of))


def _of(record: SweepRecord, name: str) -> list[Measured]:
    from sagbench.report.explain import choose
    return choose(record, name, None)


def _pin(record: SweepRecord, text: str) -> int:
    for pin in record.pins:
        if text == str(pin.pin) or text.lower() == pin.name.lower():
            return pin.pin
    raise UsageError(f"a {record.part} has no pin {text}: give a number from 1 to {record.pin_count}, or a pin's name.")


def _nothing(record: SweepRecord, name: str, pin: str | None, known: Sequence[str]) -> str:
    if name.lower() not in (k.lower() for k in known):
        return f"this record has no figure {name}; it has {', '.join(known)}."
    return f"this record has no {name} of pin {pin}; it has it of {_pins(record, name)}."
