"""The claims of hardware/spice/table that are quick: held, or known not to be.  `make claims` runs all of them.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest

from hardware.spice import __main__ as command
from hardware.spice import page
from hardware.spice.claims import Claim, ClaimError, load_claims, settle, table

CLAIMS = load_claims()
QUICK = [claim for claim in CLAIMS if claim.quick]
TEXT = table()


@pytest.mark.parametrize("claim", QUICK, ids=[claim.name for claim in QUICK])
def test_claim(claim: Claim) -> None:
    outcome = settle(claim)
    assert outcome.as_known, f"{page.line(outcome)}; {claim.source}"


def test_the_page_has_every_claim_with_its_limit() -> None:
    rows = [line.split(" | ") for line in page.PATH.read_text().splitlines() if line.startswith("| ")][1:]
    assert [row[0].removeprefix("| ") for row in rows] == [claim.name for claim in CLAIMS]
    for row, claim in zip(rows, CLAIMS, strict=True):
        assert row[2] == f"{'<=' if claim.at_most else '>='} {claim.limit:g} {claim.unit}"
        assert (row[4] == "yes") == (not claim.open), claim.name


@pytest.mark.parametrize(("old", "new", "says"), [
    ('measure = "drop_v"', 'measure = "drop"', "there is no measure drop"),
    ('corners = ["heavy"]', 'corners = ["havy"]', "no \\[corner.havy\\]"),
    ('driver = "min"', 'drivers = "min"', "drivers = 'min' is none of the quantities"),
    ('R320 = "max"', 'R999 = "max"', "R999 = 'max' is none"),
    ('supply = "max"', 'supply = "most"', "supply = 'most' is none"),
    ('at_most = "controller.pin_test_ma"', 'at_most = "controller.pin_ma"', "wiring.toml has no controller.pin_ma"),
    ('at_most = 25', 'at_most = 25\nat_least = 1', "at_most or at_least, one of them"),
    ('unit = "mA"', "", "has no unit"),
    ('name = "medium line into a short"', 'name = "strong line into a short"', "named twice"),
])
def test_a_table_that_cannot_be_is_refused(old: str, new: str, says: str) -> None:
    old = old if old in TEXT else "at_most = 200"
    assert old in TEXT
    with pytest.raises(ClaimError, match=says):
        load_claims(TEXT.replace(old, new, 1))


def test_a_claim_that_is_not_held_is_said(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The strong line's resistor carries 18.3 mA; a limit of 15 mA is exceeded, and one called open must be."""
    tight = TEXT.replace('at_most = "controller.pin_test_ma"', "at_most = 15", 1)
    monkeypatch.setattr(command, "load_claims", lambda: load_claims(tight))
    assert command.main(["strong line into"]) == 1
    said = capsys.readouterr()
    assert "NO" in said.out and "0 of 1 claims held" in said.out and "strong line into a short: not held" in said.err
    monkeypatch.setattr(command, "load_claims", lambda: load_claims(TEXT.replace("quick = true", 'quick = true\nopen = "why"', 1)))
    assert command.main(["strong line into"]) == 1
    assert "take `open` out" in capsys.readouterr().err


def test_words_that_no_claim_has(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.main(["no such thing"]) == 2
    assert "no claim has no such thing in its name" in capsys.readouterr().err
