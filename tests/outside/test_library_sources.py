"""Every number of a limit says where it is from; where sources differ, all are kept and the looser judges.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import tomllib
from collections import Counter
from pathlib import Path

import pytest
from limit_sources import FAMILIES, numbers, sourced_percent

from sagbench.parts import Role, load_part, ratings
from sagbench.parts.model import Limit

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
    assert load_part("74LS00").limits[1].iil == Limit(pytest.approx(-0.4e-3), "SDLS025B", "min")
    output = load_part("CD4011BE").of_role(Role.OUTPUT)[0].number
    assert load_part("CD4011BE").limits[output].vol[-1].amperes == pytest.approx(0.44e-3)
    kept = tomllib.loads((FAMILIES / "LS.toml").read_text(encoding="utf-8"))["input"]["iil_ma"]
    assert {-0.36, -0.4} <= {kept["min"], *(other["min"] for other in kept["also"])}


@pytest.mark.parametrize(("kind", "also", "wanted"), [
    ("max", [{"max": 0.5, "source": "b"}], (0.5, "b")), ("max", [{"max": 0.3, "source": "b"}], (0.4, "a")),
    ("min", [{"min": 2.0, "source": "b"}, {"min": 2.6, "source": "c"}], (2.0, "b")), ("min", [{"min": 2.5, "source": "b"}], (2.4, "a")),
])
def test_looser_means_less_is_asked_of_the_part(kind: str, also: list[dict[str, object]], wanted: tuple[float, str]) -> None:
    """Both forms in which a family table may say it, both directions; worked out by hand."""
    figure = {"max": 0.4, "min": 2.4, "source": "a", "also": also}
    has = ratings._figure(figure, kind, 74)
    assert (has.value, has.source) == wanted
    rated, = ratings._rated("VOL" if kind == "max" else "VOH", [{**figure, "ma": 8}], 74)
    assert (rated.limit.value, rated.limit.source) == wanted
    rated, = ratings._rated("VOL", [{"ma": 8, "max": 0.4, "source": "a", "also": [{"ma": 6, "source": "b"}]}], 74)
    assert (rated.amperes, rated.limit.source) == (pytest.approx(6e-3), "b")
