"""Outcomes as lines for a terminal, and as the page of results.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hardware.spice.claims import Outcome

PATH = Path(__file__).with_name("RESULTS.md")
HEAD = """# What the simulated fixture does, against what it must do

Nobody has soldered this fixture yet, as far as we know; nothing here has been measured on copper. These are simulations by
ngspice of the whole circuit of `hardware/wiring.toml`, at the worst ends of its parts' spans: typical behaviour of the
parts' published models, at 27 degrees. `table/` says what each claim is and which specimens it is run for; this page
is written by `python -m hardware.spice --write`.

| claim | measured | limit | margin | held | worst at | limit from |
|---|---|---|---|---|---|---|
"""


def _figures(outcome: Outcome) -> tuple[str, str, str, str]:
    claim = outcome.claim
    sign = "<=" if claim.at_most else ">="
    return (f"{outcome.worst:.4g} {claim.unit}", f"{sign} {claim.limit:g} {claim.unit}", f"{outcome.margin_percent:.0f} %",
            "yes" if outcome.held else "NO")


def line(outcome: Outcome) -> str:
    """One line of a table of fixed width."""
    measured, limit, margin, held = _figures(outcome)
    return f"{outcome.claim.name[:66]:66} {measured:>14} {limit:>14} {margin:>6} {held:>4}  {outcome.where}"


def markdown(outcomes: Sequence[Outcome]) -> str:
    """The page."""
    rows = [" | ".join(["", one.claim.name, *_figures(one), one.where, one.claim.source, ""]).strip() for one in outcomes]
    held = sum(one.held for one in outcomes)
    missed = [f"- **{one.claim.name}**: {one.claim.open or 'why is not known yet.'}" for one in outcomes if not one.held]
    return "\n".join([HEAD + "\n".join(rows), "", f"{held} of {len(outcomes)} claims are held.",
                      *(["", "## Not held", "", *missed] if missed else []), ""])
