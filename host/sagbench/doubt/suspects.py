# SPDX-License-Identifier: MIT
"""What may be wrong, one thing at a time: slips of a definition, faults of a chip.

Slips are those one makes when a data sheet is typed in (common practice): a sign too many or too few, "and" for
"or", a term too many, the wrong edge, clear and set exchanged, two pins exchanged.  Faults are the classic
single stuck-at faults at the pins.
"""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from sagbench.doubt.statements import Line, reached
from sagbench.parts import equations
from sagbench.parts.definition import Definition
from sagbench.parts.equations import Assign, Const, Expr, Name, Op, Register, Statement
from sagbench.parts.model import Role
from sagbench.report.statement import statement

_OTHER_EDGE = {"rising": "falling", "falling": "rising"}
_HOLE = "XX0XX"                          # stands for {} while a statement is taken apart
_MAX_TEXTS = 400                         # changes of one statement that are tried; a data book's equation has fewer


@dataclass(frozen=True)
class Suspect:
    """One thing that may be wrong."""

    kind: str                            # "definition" or "chip"
    sentence: str                        # what would have to be so
    touches: frozenset[str]              # outputs it can reach
    definition: Definition               # with the slip made good
    swapped: tuple[str, str] | None = None    # pins exchanged
    stuck: tuple[str, bool] | None = None     # pin and level
    line: int | None = None              # in the part file
    floats: bool = True                  # an output it switches off may have any level where it is read without load


def slips(definition: Definition, lines: tuple[Line, ...]) -> Iterator[Suspect]:
    """Mistakes of a definition, the plainest first."""
    for line in lines:
        touches = frozenset(reached(definition, line.targets()))
        for text in changes(line):
            yield Suspect("definition", f"{line.where} would have to read `{text}`", touches,
                          rewritten(definition, line, text), line=line.number)
    yield from _other_stage(definition, lines)
    outputs = [name for name, role in definition.roles.items() if role.is_output]
    inputs = [name for name, role in definition.roles.items() if role.is_input and not role.is_output]
    for kind in (outputs, inputs):
        for one, other in combinations(kind, 2):
            yield Suspect("definition", f"the pins {one} and {other} would have to change places in the pinout",
                          frozenset(reached(definition, (one, other))), definition, swapped=(one, other))


def missing_terms(definition: Definition, lines: tuple[Line, ...]) -> Iterator[Suspect]:
    """Statements with a term too few: many, so for when nothing plainer explains the answers."""
    known = [name for name, role in definition.roles.items() if role.is_input] + [r.target.text for r in definition.registers]
    for line in lines:
        touches = frozenset(reached(definition, line.targets()))
        said = equations.parse(line.text.replace("{}", _HOLE))
        had = {name.text for name in equations.statement_names(said)}
        own = [name for name in (_template(n, line) for n in known) if name not in had]
        for name in dict.fromkeys(own):
            for changed in _with_term(said, Name(name, 0)):
                text = statement(changed).replace(_HOLE, "{}")
                yield Suspect("definition", f"{line.where} would have to read `{text}`", touches,
                              rewritten(definition, line, text), line=line.number)


def _template(name: str, line: Line) -> str:
    """A name of the line's first copy as the file would write it, if it begins or ends with the copy's name."""
    copy = line.each[0]
    if len(line.each) < 2 or copy not in name:
        return name
    return _HOLE + name.removeprefix(copy) if name.startswith(copy) else name.removesuffix(copy) + _HOLE if name.endswith(copy) else name


def _with_term(said: Statement, name: Name) -> Iterator[Statement]:
    old = said.value if isinstance(said, Assign) else said.next
    for sign in "&|":
        for term in (name, Op("!", (name,))):
            news: list[Expr] = [Op(sign, (old, term))]
            if isinstance(old, Op) and old.sign == "!":
                news.append(Op("!", (Op(sign, (old.args[0], term)),)))
            for new in news:
                yield replace(said, value=new) if isinstance(said, Assign) else replace(said, next=new)


def _other_stage(definition: Definition, lines: tuple[Line, ...]) -> Iterator[Suspect]:
    """Open-collector outputs listed as ordinary ones, and the other way round."""
    other = {Role.OUTPUT: Role.OPEN_COLLECTOR, Role.OPEN_COLLECTOR: Role.OUTPUT}
    word = {Role.OUTPUT: "outputs", Role.OPEN_COLLECTOR: "open_collector"}
    for line in lines:
        names = frozenset(line.targets())
        role = other.get(definition.roles.get(min(names), Role.UNUSED))
        if role:
            blocks = tuple(replace(block, roles={n: role if n in names else r for n, r in block.roles.items()})
                           for block in definition.blocks)
            target = line.text.split("=")[0].strip()
            yield Suspect("definition", f'"{target}" would have to be listed under {word[role]}', names,
                          replace(definition, blocks=blocks), line=line.number, floats=False)


def faults(definition: Definition) -> Iterator[Suspect]:
    """Faults of a chip: every signal pin stuck low and stuck high."""
    for name, role in definition.roles.items():
        touches = frozenset(reached(definition, (name,)))
        for level in (False, True):
            yield Suspect("chip", f"{name} stuck {'high' if level else 'low'} inside the chip", touches, definition,
                          stuck=(name, level))


def rewritten(definition: Definition, line: Line, text: str) -> Definition:
    """The definition with another statement in that line, in every copy of the block."""
    wanted = {equations.parse(text.replace("{}", copy)).target.text: equations.parse(text.replace("{}", copy)) for copy in line.each}
    blocks = tuple(replace(block, statements=tuple(wanted.get(s.target.text, s) for s in block.statements))
                   for block in definition.blocks)
    return replace(definition, blocks=blocks)


def changes(line: Line) -> list[str]:
    """The statement with one slip, as text with {} again; no text twice."""
    said = equations.parse(line.text.replace("{}", _HOLE))
    texts = (statement(changed).replace(_HOLE, "{}") for changed in _changed(said))
    return [text for text in dict.fromkeys(texts) if text != statement(said).replace(_HOLE, "{}")][:_MAX_TEXTS]


def _changed(said: Statement) -> Iterator[Statement]:
    if isinstance(said, Assign):
        yield from (replace(said, value=v) for v in _slipped(said.value))
        if said.enable is not None:
            yield from (replace(said, enable=e) for e in _slipped(said.enable))
        return
    yield from _changed_register(said)


def _changed_register(said: Register) -> Iterator[Statement]:
    if said.edge:
        yield replace(said, edge=_OTHER_EDGE[said.edge])
    if said.clear is not None and said.set is not None:
        yield replace(said, clear=said.set, set=said.clear)
    yield from (replace(said, next=n) for n in _slipped(said.next))
    if not said.edge:
        yield from (replace(said, clock=c) for c in _slipped(said.clock))
    if said.clear is not None:
        yield from (replace(said, clear=c) for c in (*_slipped(said.clear), None))
    if said.set is not None:
        yield from (replace(said, set=s) for s in (*_slipped(said.set), None))


def _slipped(expr: Expr) -> Iterator[Expr]:
    """The expression with one slip anywhere; turned over as a whole first."""
    yield _not(expr)
    if isinstance(expr, Name | Const):
        return
    if expr.sign in "&|^":
        yield from (Op(sign, expr.args) for sign in "&|^" if sign != expr.sign)
        yield from expr.args                             # a term too many
    if expr.sign == "?":
        yield Op("?", (expr.args[0], expr.args[2], expr.args[1]))
    for index, arg in enumerate(expr.args):
        others = _slipped(arg)
        if expr.sign == "!":
            next(others)                                 # turned over once more: that is the operand by itself, had already
        for other in others:
            yield Op(expr.sign, (*expr.args[:index], other, *expr.args[index + 1:]))


def _not(expr: Expr) -> Expr:
    return expr.args[0] if isinstance(expr, Op) and expr.sign == "!" else Op("!", (expr,))


