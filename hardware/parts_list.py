"""The parts list: hardware/parts-list.csv from wiring.toml, board/footprints.toml and prices.toml.

    python -m hardware.parts_list            # write
    python -m hardware.parts_list --check    # exit 1 if it is stale

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import csv
import io
import re
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hardware.board.design import Component, components
from hardware.wiring import WiringError
from protocol import emit

PRICES = Path(__file__).with_name("prices.toml")
COLUMNS = (
    "quantity",
    "value",
    "tolerance",
    "package",
    "designators",
    "may be replaced by",
    "must not be replaced by",
    "why",
    "usd each",
    "usd",
    "price",
)


@dataclass(frozen=True)
class Line:
    """One line of the list. `usd`: estimated price of one."""

    quantity: int
    value: str
    tolerance: str
    package: str
    designators: str
    may: str
    never: str
    why: str
    usd: float


def _value(part: Component) -> str:
    """What is asked for in a shop."""
    return part.name.removeprefix("PinHeader_").split("_")[0] if part.kind == "header" else part.value


def _entry(prices: dict[str, Any], part: Component) -> dict[str, Any]:
    """The first entry of prices.toml that fits a part. WiringError if none does."""
    seen = {"kind": part.kind, "value": _value(part), "tolerance": part.tolerance, "role": part.role}
    for entry in prices["part"]:
        if all(seen[key] == entry[key] for key in seen.keys() & entry.keys()):
            return dict(entry)
    raise WiringError(
        f"part {part.ref}: hardware/prices.toml has no entry for kind {part.kind!r}, value {_value(part)!r}; add one"
    )


def ranges(refs: list[str]) -> str:
    """Designators, neighbours drawn together: R101-R124, R301."""
    split = sorted((re.match(r"([A-Z]+)(\d+)", ref).groups() for ref in refs), key=lambda s: (s[0], int(s[1])))  # type: ignore[union-attr]
    out: list[list[tuple[str, int]]] = []
    for letters, digits in split:
        if out and out[-1][-1] == (letters, int(digits) - 1):
            out[-1].append((letters, int(digits)))
        else:
            out.append([(letters, int(digits))])
    return ", ".join(f"{run[0][0]}{run[0][1]}" + (f"-{run[-1][0]}{run[-1][1]}" if len(run) > 1 else "") for run in out)


def lines(parts: list[Component] | None = None) -> list[Line]:
    """The list: parts of equal value, tolerance and entry together, then what is bought beside them."""
    parts = parts or components()
    prices = tomllib.loads(PRICES.read_text())
    groups: dict[tuple[str, str, str, str], list[Component]] = {}
    for part in parts:
        groups.setdefault(
            (part.kind, _value(part), part.tolerance, _entry(prices, part)["package"] + _entry(prices, part)["why"]), []
        ).append(part)
    out = []
    for (_, value, tolerance, _), members in groups.items():
        entry = _entry(prices, members[0])
        out.append(
            Line(
                len(members),
                value,
                tolerance,
                entry["package"],
                ranges([m.ref for m in members]),
                entry["may"],
                entry["never"],
                entry["why"],
                entry["usd"],
            )
        )
    for extra in prices["extra"]:
        quantity = extra.get("quantity") or sum(part.kind in extra["quantity_of"] for part in parts)
        out.append(
            Line(quantity, extra["value"], "", extra["package"], "", extra["may"], extra["never"], extra["why"], extra["usd"])
        )
    return out


def total_usd(listed: list[Line]) -> float:
    """Estimated price of everything, dollars."""
    return sum(line.quantity * line.usd for line in listed)


def fitted(listed: list[Line]) -> int:
    """Pieces that are soldered: those with a designator."""
    return sum(line.quantity for line in listed if line.designators)


def text() -> str:
    """The CSV file (RFC 4180, but with plain line ends), the total in its last line."""
    estimated = tomllib.loads(PRICES.read_text())["estimated"]
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    listed = lines()
    for one in listed:
        table.writerow(
            [
                one.quantity,
                one.value,
                one.tolerance,
                one.package,
                one.designators,
                one.may,
                one.never,
                one.why,
                f"{one.usd:.3f}",
                f"{one.quantity * one.usd:.2f}",
                f"estimate, {estimated}",
            ]
        )
    table.writerow(
        [
            "",
            "total without the controller board",
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            f"{total_usd(listed):.2f}",
            f"estimate, {estimated}",
        ]
    )
    return out.getvalue()


def files() -> dict[str, str]:
    """The derived file."""
    return {"hardware/parts-list.csv": text()}


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "hardware.parts_list"))
