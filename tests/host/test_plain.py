"""Where in a JSON text something stands. Referee: the line on which a mark put there comes out of `json.dumps`."""
from __future__ import annotations

import copy
import json
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.plain import Misfit, line_of, line_of_mistake, plain, shaped

MARK = "here it is"
TREES = st.recursive(st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=5),
                     lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4), max_leaves=20)


def paths(tree: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """All that lead somewhere."""
    found = [path] if path else []
    for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ():
        found += paths(value, (*path, key))
    return found


@given(TREES, st.data(), st.sampled_from([None, 1]))
def test_the_line_is_that_of_a_mark_put_there(tree: Any, data: st.DataObject, indent: int | None) -> None:
    every = paths(tree)
    if not every:
        assert line_of(json.dumps(tree), ("a", 1)) == 1
        return
    path = data.draw(st.sampled_from(every))
    marked = copy.deepcopy(tree)
    holder = marked
    for key in path[:-1]:
        holder = holder[key]
    holder[path[-1]] = MARK
    text = json.dumps(marked, indent=indent)
    where = next(n for n, line in enumerate(text.split("\n"), 1) if MARK in line)
    assert line_of(text, path) == where
    assert line_of(text, (*path, "deeper", 3)) == where        # what is not there: the last that is


@pytest.mark.parametrize(("text", "line"), [
    ('{\n"a": 1,\n}', 3), ('{"a":\n\n 1e', 3), ("", 1), ('{\n"a":\n' + "9" * 5000 + "}", 3)])
def test_the_line_of_a_mistake(text: str, line: int) -> None:
    with pytest.raises(ValueError) as caught:
        json.loads(text)
    assert line_of_mistake(text, caught.value) == line


@dataclass(frozen=True)
class Point:
    """An example."""

    x: float
    name: str = ""
    more: tuple[float, ...] = ()


def test_there_and_back() -> None:
    one = Point(1.5, "a", (1.0, 2.0))
    assert shaped(Point, json.loads(json.dumps(plain(one)))) == one


@pytest.mark.parametrize(("data", "path", "said"), [
    ({"x": "1"}, ("x",), 'x is "1", must be a number'), ({"x": True}, ("x",), "x is true"), ({}, (), "lacks the field 'x'"),
    ({"x": 1, "more": [1, "2"]}, ("more", 1), 'more[1] is "2"'), ({"x": 1, "y": 2}, ("y",), "a field 'y' that nobody knows"),
    ({"x": 10 ** 400}, ("x",), "beyond all bounds"), ({"x": float("inf")}, ("x",), "beyond all bounds"), ([1], (), "must be an object")])
def test_what_does_not_fit_is_told_with_its_place(data: Any, path: tuple[str | int, ...], said: str) -> None:
    with pytest.raises(Misfit) as caught:
        shaped(Point, data)
    assert said in str(caught.value) and caught.value.path == path
