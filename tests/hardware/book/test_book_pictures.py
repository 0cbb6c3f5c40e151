"""Steps of the build book: every part once, pictures that show what the board file has, colours as the standard says.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from hardware.board.design import components
from hardware.book import build, picture, steps
from hardware.wiring import WiringError
from protocol import emit

FOLDER = Path(build.__file__).parent
SVG = "{http://www.w3.org/2000/svg}"


def test_everything_made_is_current() -> None:
    assert emit.stale(build.files()) == []


def test_no_picture_is_left_over() -> None:
    assert {p.name for p in FOLDER.glob("*.svg")} == {Path(name).name for name in build.files() if name.endswith(".svg")}


def test_each_part_is_soldered_once_and_chips_are_not() -> None:
    refs = [part.ref for step in steps.steps() for part in step.parts]
    assert sorted(refs) == sorted(part.ref for part in components())


@pytest.mark.parametrize("number", range(1, 12))
def test_each_picture_names_its_parts_and_no_others(number: int) -> None:
    step = steps.steps()[number - 1]
    texts = [t.text or "" for t in ET.parse(FOLDER / f"{number:02}-{step.name}.svg").iter(f"{SVG}text")]
    named = {t for t in texts if re.fullmatch(r"(?:R|C|D|Q|U|X|J|SW)\d+", t)}
    assert named == {part.ref for part in step.parts}


def test_red_pads_are_at_pad_one_of_the_board() -> None:
    """The pad that tells the way round is drawn over pad 1 of each polarised part, by the places in the board file."""
    shapes, _ = picture.shapes()
    sheet = picture.Sheet("", "")
    for number, step in enumerate(steps.steps(), 1):
        red = {(float(r.get("x", 0)) + float(r.get("width", 0)) / 2, float(r.get("y", 0)) + float(r.get("height", 0)) / 2)
               for r in ET.parse(FOLDER / f"{number:02}-{step.name}.svg").iter(f"{SVG}rect") if r.get("fill") == picture.MARK}
        wanted = set()
        for part in step.parts:
            if part.kind in ("diode", "led", "hc4051", "hc595", "mcp6004", "zif_socket") or part.ref == "C305":
                pad = next(p for p in shapes[part.ref].pads if p[0] == "1")
                wanted.add(sheet.at(pad[1], pad[2]))
        assert {(round(x, 1), round(y, 1)) for x, y in red} == wanted


def test_pad_one_is_what_the_book_says() -> None:
    """Cathode, plus, pin 1: by the nets of the wiring, not by the drawing."""
    by_ref = {part.ref: part for part in components()}
    assert by_ref["D301"].pads == {"1": "PUMP_AC", "2": "GND"}                # cathode at PUMP_AC
    assert by_ref["D302"].pads == {"1": "ALIVE", "2": "PUMP_AC"}
    assert by_ref["D303"].pads == {"1": "GND", "2": "LAMP_A"}
    assert by_ref["C305"].pads == {"1": "VBUS", "2": "GND"}


# Worked examples of IEC 60062 colour bands as colour-code tables print them (common practice; from memory).
@pytest.mark.parametrize(("value", "tolerance", "colours"), [
    ("270", "1%", "red violet black black brown"),
    ("8k2", "1%", "grey red black brown brown"),
    ("100k", "1%", "brown black black orange brown"),
    ("1R0", "1%", "brown black black silver brown"),
    ("1k", "0.1%", "brown black black brown violet"),
    ("10k", "5%", "brown black orange gold"),
    ("470", "5%", "yellow violet brown gold"),
    ("2k2", "5%", "red red red gold"),
    ("1R0", "5%", "brown black gold gold"),
])
def test_colour_bands(value: str, tolerance: str, colours: str) -> None:
    assert steps.bands(value, tolerance) == colours


@pytest.mark.parametrize(("old", "new", "words"), [
    ('kind = ["diode"]', 'kind = ["dode"]', "part D301: book/steps.toml has no step for kind 'diode'"),
    ('value = ["560"]', 'value = ["561"]', "no part fits step 'medium'"),
])
def test_a_step_that_cannot_be_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, old: str, new: str, words: str) -> None:
    mine = tmp_path / "steps.toml"
    mine.write_text(steps.STEPS.read_text().replace(old, new))
    monkeypatch.setattr(steps, "STEPS", mine)
    with pytest.raises(WiringError, match=re.escape(words)):
        steps.steps()
