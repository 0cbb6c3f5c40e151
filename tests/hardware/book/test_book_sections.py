"""Every message of the self-test leads to a section that is there, by the program's text and by the book's table.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
SELFTEST, BUILD = ROOT / "hardware/SELFTEST.md", ROOT / "hardware/BUILD.md"
MESSAGES = ("fine", "fault", "unsure", "not_tested")
PAGES = [BUILD, SELFTEST, ROOT / "hardware/reduced/README.md", ROOT / "hardware/reduced/WIRING.md", ROOT / "hardware/board/README.md"]


def _sections(call: ast.Call) -> list[str]:
    """The section of a report call, both if it is chosen by a condition."""
    value = call.args[2]
    values = [value.body, value.orelse] if isinstance(value, ast.IfExp) else [value]
    assert all(isinstance(v, ast.Constant) for v in values), f"line {call.lineno}: the section is no plain text"
    return [str(v.value) for v in values if isinstance(v, ast.Constant)]


def messages() -> dict[str, list[str]]:
    """Section -> places of the calls that lead there."""
    out: dict[str, list[str]] = {}
    for path in sorted((ROOT / "host/sagbench/selftest").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in MESSAGES and len(node.args) >= 3:
                for section in _sections(node):
                    out.setdefault(section, []).append(f"{path.name}:{node.lineno}")
    return out


def test_every_message_has_its_section() -> None:
    found = messages()
    assert sum(map(len, found.values())) > 50
    headings = set(re.findall(r"^## ([\w-]+)$", SELFTEST.read_text(), re.MULTILINE))
    assert {section: where for section, where in found.items() if section not in headings} == {}


def test_the_book_lists_every_section_that_a_message_leads_to() -> None:
    listed = set(re.findall(r"\(SELFTEST\.md#([\w-]+)\)", BUILD.read_text().partition("## When the self-test")[2]))
    assert listed == set(messages())


def _anchor(heading: str) -> str:
    """As the usual Markdown viewers make it."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


@pytest.mark.parametrize("page", PAGES, ids=[p.parent.name + "-" + p.stem for p in PAGES])
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text()):
        if "://" in target:
            continue
        name, _, anchor = target.partition("#")
        there = (page.parent / name) if name else page
        assert there.exists(), target
        if anchor:
            headings = re.findall(r"^#+ (.+)$", there.read_text(), re.MULTILINE)
            assert anchor in map(_anchor, headings), target


def test_the_silk_names_this_page() -> None:
    assert "see hardware/BUILD.md" in (ROOT / "hardware/board/outline.toml").read_text()


def test_it_says_first_that_nobody_has_built_it() -> None:
    for page in (BUILD, ROOT / "hardware/reduced/README.md"):
        assert "**Nobody has" in page.read_text()[:200]
