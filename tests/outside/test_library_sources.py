"""Every number of a limit says where it is from; where sources differ, all are kept and the looser judges.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import tomllib
from collections import Counter
from pathlib import Path

import pytest
from limit_sources import numbers, sourced_percent

from sagbench.errors import PartFileError
from sagbench.parts import Role, load_part, ratings
from sagbench.parts.model import Limit, Part

DOCUMENTS = tomllib.loads((Path(ratings.__file__).parent / "sources.toml").read_text(encoding="utf-8"))["source"]


def test_every_number_has_a_source() -> None:
    rows = list(numbers())
    unknown = [row for row in rows if row[1] not in DOCUMENTS and row[1] != "memory"]
    assert not unknown, unknown[:5]
    counts = Counter(source for _, source in rows)
    print(f"{len(rows)} numbers: {sourced_percent(rows):.1f} % from a document, the rest from memory; {counts.most_common(8)}")
    assert len(rows) > 3000 and 0 < counts["memory"] < len(rows)


def test_every_document_is_used_and_named_in_full() -> None:
    for key, title in DOCUMENTS.items():
        assert len(title) > 20, key
    used = {source for _, source in numbers()}
    assert len(used & set(DOCUMENTS)) >= 20


def test_of_two_sources_the_looser_judges() -> None:
    """74LS: IIL -0.36 mA (Fairchild DM74LS00) and -0.4 mA (TI SDLS025B); 4000B: 0.44 mA (National) and 0.51 mA."""
    iil = load_part("74LS00").limits[1].iil
    assert (iil.value, iil.source, iil.kind) == (pytest.approx(-0.4e-3), "SDLS025B", "min")
    assert Limit(pytest.approx(-0.36e-3), "DM74LS00", "min") in iil.also
    output = load_part("CD4011BE").of_role(Role.OUTPUT)[0].number
    judging = load_part("CD4011BE").limits[output].vol[-1]
    assert judging.amperes == pytest.approx(0.44e-3) and [other.amperes for other in judging.also] == [pytest.approx(0.51e-3)]


PART = """
function = "08"
title = "one gate"
[[pinout]]
pins = ["A", "B", "C", "GND", "Y", "NC", "NC", "VCC"]
[[block]]
inputs = ["A", "B", "C"]
tri_state = ["Y"]
logic = ["Y = A & B when C"]
[family.LS]
icc_ma = {{ high = {icc} }}
icc_source = "whole table"
iil_ma = {{ A = {iil}, C = -0.8 }}
iih_ua = {{ A = {iih} }}
load_source = "loads"
[[family.LS.output]]
vol = [{{ ma = 8, max = 0.4{vol} }}]
off_ua = {off}
source = "levels"
"""
PLAIN_FIGURES = {"icc": "[1, 2]", "iil": "-0.2", "iih": "20", "vol": "", "off": "20"}


def two_sources(tmp_path: Path, **figures: str) -> Part:
    """A part of a user's own with these figures in place of plain ones."""
    (tmp_path / "08.toml").write_text(PART.format(**PLAIN_FIGURES | figures), encoding="utf-8")
    return load_part("74LS08", user_dirs=[tmp_path])


def test_a_figure_of_a_part_file_names_its_own_source_and_what_others_give(tmp_path: Path) -> None:
    """Each kind of figure: the loosest judges under its own name, the others stay with theirs."""
    part = two_sources(tmp_path, icc='{ typ = 1, max = 2, source = "a", also = [{ max = 3, source = "b" }] }',
                       iil='{ min = -0.2, source = "a", also = [{ min = -0.8, source = "b" }] }',
                       iih='{ max = 40, also = [{ max = 20, source = "b" }] }',
                       vol=', also = [{ ma = 6, source = "b" }, { max = 0.5, source = "c" }]',
                       off='{ max = 20, source = "a", also = [{ max = 50, source = "b" }] }')
    state, = part.supply_states
    assert state.limit == Limit(pytest.approx(3e-3), "b", also=(Limit(pytest.approx(2e-3), "a"),)) and state.typical == pytest.approx(1e-3)
    a, b, c, y = part.pins[0], part.pins[1], part.pins[2], part.pins[4]
    assert (a.low_unit_loads, b.low_unit_loads, c.low_unit_loads) == (2, 1, 2)
    assert part.limits[1].iil == Limit(pytest.approx(-0.4e-3), "b", "min", (Limit(pytest.approx(-0.1e-3), "a", "min"),)), "at one unit load"
    assert (a.high_unit_loads, part.limits[1].iih.source) == (2, "loads")
    assert part.limits[1].iih.also == (Limit(pytest.approx(10e-6), "b"),)
    assert part.limits[2].iil.source == "SDLS025B" and part.limits[3].iil.source == "loads"
    judging, = part.limits[y.number].vol
    assert (judging.amperes, judging.limit.value, judging.limit.source) == (pytest.approx(6e-3), 0.5, "c"), "the level's source"
    assert [(r.amperes, r.limit.value, r.limit.source) for r in judging.also] == [
        (pytest.approx(8e-3), 0.4, "levels"), (pytest.approx(6e-3), 0.4, "b"), (pytest.approx(8e-3), 0.5, "c")]
    leak = part.limits[y.number].off_leakage
    assert leak and (leak.value, leak.source) == (pytest.approx(50e-6), "b")


def test_a_drive_of_the_family_is_taken_with_its_sources(tmp_path: Path) -> None:
    """`drive = "bus"`: the levels and sources of the family's table, and what the part says itself in place of them."""
    text = PART.format(**PLAIN_FIGURES).replace('vol = [{ ma = 8, max = 0.4 }]\noff_ua = 20\nsource = "levels"', 'drive = "bus"\noff_ua = 30\nsource = "own"')
    (tmp_path / "08.toml").write_text(text, encoding="utf-8")
    has = load_part("74LS08", user_dirs=[tmp_path]).limits[5]
    assert [(r.amperes, r.limit.source) for r in has.vol] == [(pytest.approx(12e-3), "DM74LS244"), (pytest.approx(24e-3), "DM74LS244")]
    assert {r.limit.source for r in has.voh} == {"DM74LS244"} and has.off_leakage == Limit(pytest.approx(30e-6), "own")
    (tmp_path / "08.toml").write_text(text.replace('"bus"', '"buss"'), encoding="utf-8")
    with pytest.raises(PartFileError, match=r'a drive of the family: tri_state, bus; did you mean "bus"\?'):
        load_part("74LS08", user_dirs=[tmp_path])


@pytest.mark.parametrize(("figures", "told"), [
    ({"icc": '{ max = 2, also = [{ min = 3, source = "b" }] }'}, "no `max`"),
    ({"icc": '{ max = 2, also = [{ max = 3 }] }'}, "no `source`"),
    ({"icc": '{ max = 2, also = [{ max = 3000, source = "b" }] }'}, "microamperes are icc_ua"),
    ({"icc": '{ typ = 3, max = 2 }'}, "the smaller one first"),
    ({"iil": '{ max = -0.2 }'}, "no `min`"),
    ({"iil": '{ min = -0.2, also = [{ min = 0.4, source = "b" }] }'}, "flows out of the pin is negative"),
    ({"vol": ', also = [{ source = "b" }]'}, "an empty table"),
    ({"vol": '}]\nvoh = [{ ma = -1, below_supply = 2, also = [{ min = 2.4, source = "b" }]'}, "levels given the same way"),
])
def test_another_source_written_wrongly_is_told(tmp_path: Path, figures: dict[str, str], told: str) -> None:
    with pytest.raises(PartFileError) as raised:
        two_sources(tmp_path, **figures)
    assert any(told in line for line in raised.value.mistakes), raised.value.mistakes


@pytest.mark.parametrize(("kind", "also", "wanted"), [
    ("max", [{"max": 0.5, "source": "b"}], (0.5, "b")), ("max", [{"max": 0.3, "source": "b"}], (0.4, "a")),
    ("min", [{"min": 2.0, "source": "b"}, {"min": 2.6, "source": "c"}], (2.0, "b")), ("min", [{"min": 2.5, "source": "b"}], (2.4, "a")),
])
def test_looser_means_less_is_asked_of_the_part(kind: str, also: list[dict[str, object]], wanted: tuple[float, str]) -> None:
    """Both forms in which a family table may say it, both directions; worked out by hand."""
    figure = {"max": 0.4, "min": 2.4, "source": "a", "also": also}
    has = ratings.figure(figure, kind, grade=74)
    assert (has.value, has.source) == wanted
    rated, = ratings._rated("VOL" if kind == "max" else "VOH", [{**figure, "ma": 8}], 74)
    assert (rated.limit.value, rated.limit.source) == wanted
    rated, = ratings._rated("VOL", [{"ma": 8, "max": 0.4, "source": "a", "also": [{"ma": 6, "source": "b"}]}], 74)
    assert (rated.amperes, rated.limit.source) == (pytest.approx(6e-3), "b")
