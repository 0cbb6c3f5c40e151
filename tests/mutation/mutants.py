"""All small changes of a file, by the operators of mutmut (https://pypi.org/project/mutmut, BSD licence).

mutmut's own runner leaves out every decorated function (each property), and copies the tree, which tests that look at the tree
do not bear; so its operators are used, and run.py does the rest.  As in mutmut, only what stands inside functions is changed.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ast
import json
from collections import Counter
from dataclasses import asdict, dataclass
from itertools import accumulate
from os.path import commonprefix

import libcst as cst
from libcst.metadata import CodeRange, MetadataWrapper, PositionProvider
from mutmut.mutation.file_mutation import Mutation, MutationVisitor
from mutmut.mutation.mutators import mutation_operators
from mutmut.mutation.pragma_handling import IgnoredCode

from mutation.rooms import BUILD, Room, digest


@dataclass(frozen=True)
class Mutant:
    """`source[start:end]` of `file` becomes `text`.  `line` is where, `was` and `now` are for the reader."""

    room: str
    file: str
    function: str
    line: int
    was: str
    now: str
    nth: int
    start: int
    end: int
    text: str

    @property
    def id(self) -> str:
        """The same after lines have moved."""
        return f"{self.file}::{self.function}::{self.was} -> {self.now}" + (f" ({self.nth + 1})" if self.nth else "")

    def apply(self, source: str) -> str:
        """The file with the change."""
        return source[:self.start] + self.text + source[self.end:]


class _Visitor(MutationVisitor):
    """mutmut's, with decorated functions, and with the place of each change."""

    def __init__(self) -> None:
        super().__init__(mutation_operators, IgnoredCode(set(), set(), set()))
        self.places: list[CodeRange | None] = []
        self.lines: list[int] = []
        self._line = 1

    def _skip_node_and_children(self, node: cst.CSTNode) -> bool:
        return not isinstance(node, cst.FunctionDef) and bool(super()._skip_node_and_children(node))

    def _create_mutations(self, node: cst.CSTNode) -> None:
        place = self.get_metadata(PositionProvider, node, None)
        self._line = place.start.line if place else self._line
        super()._create_mutations(node)
        more = len(self.mutations) - len(self.lines)
        self.lines += [self._line] * more
        self.places += [place] * more


def _functions(source: str) -> dict[int, str]:
    """Line -> qualified name of the outermost function it stands in (methods with their class)."""
    names: dict[int, str] = {}

    def look(body: list[ast.stmt], prefix: str) -> None:
        for node in body:
            if isinstance(node, ast.ClassDef):
                look(node.body, f"{prefix}{node.name}.")
            elif isinstance(node, ast.FunctionDef):
                names.update({line: prefix + node.name for line in range(node.lineno, (node.end_lineno or 0) + 1)})
    look(ast.parse(source).body, "")
    return names


def _one_a_string(original: cst.CSTNode, seen: set[cst.CSTNode]) -> bool:
    """Strings are changed once: three spellings of a wrong word are one mistake.  Sentences (words with spaces) are not changed:
    what a sentence says is read by people, what it means stands beside it as data."""
    if not isinstance(original, cst.SimpleString):
        return True
    if original in seen or " " in original.value.strip("\"' "):
        return False
    seen.add(original)
    return True


def _cut(source: str, begins: list[int], module: cst.Module, change: Mutation, place: CodeRange | None) -> tuple[int, int, str]:
    """Start, end and new text of a change; by the node's own place where it has one (quick), else from the whole new file."""
    was, now = (module.code_for_node(node).strip() for node in (change.original_node, change.mutated_node))
    if place:
        start, end = (begins[at.line - 1] + at.column for at in (place.start, place.end))
        if source[start:end].strip() == was:
            return start, end, now
    new = module.deep_replace(change.original_node, change.mutated_node)
    assert isinstance(new, cst.Module)
    text = new.code
    start = len(commonprefix([source, text]))
    tail = min(len(commonprefix([source[::-1], text[::-1]])), len(source) - start, len(text) - start)
    return start, len(source) - tail, text[start:len(text) - tail]


def listed(room: Room, file: str) -> list[Mutant]:
    """Every mutant of a file, kept in build/ by the file's digest."""
    path = room.root / file
    kept = BUILD / "lists" / f"{file.replace('/', '.')}.{digest(path)}.json"
    if kept.exists():
        return [Mutant(**{**row, "room": room.name}) for row in json.loads(kept.read_text())]
    source = path.read_text()
    wrapper = MetadataWrapper(cst.parse_module(source))
    visitor = _Visitor()
    wrapper.visit(visitor)
    functions, strings, count, found = _functions(source), set[cst.CSTNode](), Counter[tuple[str, ...]](), list[Mutant]()
    begins = [0, *accumulate(map(len, source.splitlines(keepends=True)))]
    for change, line, place in zip(visitor.mutations, visitor.lines, visitor.places, strict=True):
        if line not in functions or not _one_a_string(change.original_node, strings):
            continue
        was, now = (" ".join(wrapper.module.code_for_node(node).split()) for node in (change.original_node, change.mutated_node))
        nth = count[functions[line], was, now]
        count[functions[line], was, now] += 1
        found.append(Mutant(room.name, file, functions[line], line, was, now, nth,
                            *_cut(source, begins, wrapper.module, change, place)))
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_text(json.dumps([asdict(one) for one in found]))
    return found
