"""A draft of a part file from what was learnt: blocks, a program, and comments that say how sure each law is.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sagbench.learn.laws import Learnt
from sagbench.learn.naming import NOTHING, Cell, cells, kind, law_words, named, out_name, statements, turned
from sagbench.parts.model import Role

LINE = 12  # toggles in a line of the program
WIDTH = 110  # letters of a comment's line


@dataclass(frozen=True)
class About:
    """What the user says of the specimen: the type's number, its family (key of part files), size and rails."""

    function: str
    family: str
    size: int
    supplies: tuple[int, ...]
    grounds: tuple[int, ...]
    assumed: str = ""  # a sentence, if the family is only assumed


@dataclass(frozen=True)
class Draft:
    """The file's text, and the names of pins 1..N in it."""

    text: str
    names: tuple[str, ...]

    @property
    def logic(self) -> str:
        """What it says of pins and logic."""
        return self.text[self.text.index("[[pinout]]") :]


def draft(learnt: Learnt, about: About) -> Draft:
    """The part file.  Names are ours: what the maker calls the pins nobody can measure."""
    groups = _alike(learnt)
    variables, outs = named(learnt, groups)
    names = _pin_names(learnt, about, variables, outs)
    lines = [
        f'function = "{about.function}"',
        'title = "learnt from a specimen"',
        'sources = ["learnt from a specimen"]',
        f"notes = [{_quoted(_note(learnt))}]",
        "# Learnt by `sagbench learn`: names of pins are made up, figures are those of the family.",
        *([f"# {about.assumed}", f"# If it is of another, change [family.{about.family}] below, or learn it with --family."] if about.assumed else []),
        *_told(learnt, names),
    ]
    if learnt.walk:
        lines += ["program = [", *_program(learnt, names), "]"]
    lines += ["", "[[pinout]]", f"pins = [{', '.join(map(_quoted, names))}]"]
    number = 1
    for group in groups:
        lines += ["", *_block(learnt, group, variables, number)]
        number += len(group)
    lines += ["", f"[family.{about.family}]" if about.family.isalnum() else f'[family."{about.family}"]', ""]
    return Draft("\n".join(lines), names)


def _quoted(text: str) -> str:
    return f'"{text}"'


def _note(learnt: Learnt) -> str:
    return f"learnt from one specimen in {learnt.looks} looks; not from a data sheet"


def _alike(learnt: Learnt) -> list[list[Cell]]:
    """Cells in groups whose statements are the same but for the number."""
    all_cells = cells(learnt)
    shared = {i for cell in all_cells for i in cell.own}
    groups: list[tuple[tuple[object, ...], list[Cell]]] = []
    for cell in all_cells:
        for one in turned(cell):
            key = _signature(learnt, one, shared)
            home = next((group for known, group in groups if known == key), None)
            if home is not None:
                home.append(one)
                break
        else:
            groups.append((_signature(learnt, cell, shared), [cell]))
    return [group for _, group in groups]


def _signature(learnt: Learnt, cell: Cell, owned: set[int]) -> tuple[object, ...]:
    return (statements(learnt, cell, _generic(learnt, cell, owned)), tuple(learnt.laws[pin].role for pin in cell.outputs),
            tuple(learnt.inputs[i] in learnt.schmitt for i in cell.own))


def _generic(learnt: Learnt, cell: Cell, owned: set[int]) -> dict[int, str]:
    """Names in a cell's statements: {}A for its own inputs, {}q for its own state bit, others by pin."""
    n = len(learnt.inputs)
    names = {i: f"I{pin}" for i, pin in enumerate(learnt.inputs)}
    names |= {n + k: "{}q" if pin in cell.outputs else f"q{pin}" for k, pin in enumerate(learnt.states)}
    return names | {i: "{}" + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[k] for k, i in enumerate(cell.own)}


def _pin_names(learnt: Learnt, about: About, variables: Mapping[int, str], outs: Mapping[int, str]) -> tuple[str, ...]:
    names = ["NC"] * about.size
    for pins, rail in ((about.supplies, ("VCC", "VDD")), (about.grounds, ("GND", "VSS"))):
        for k, pin in enumerate(pins):
            names[pin - 1] = rail[k]
    for i, pin in enumerate(learnt.inputs):
        if pin not in learnt.idle and pin not in learnt.outputs:
            names[pin - 1] = variables[i]
    for pin, name in outs.items():
        names[pin - 1] = name
    return tuple(names)


def _told(learnt: Learnt, names: Sequence[str]) -> Iterator[str]:
    """What is proven, guessed, not reached, each with its confidence."""
    for pin, law in sorted(learnt.laws.items()):
        sure, why = law_words(learnt, law)
        yield f"# pin {pin:2d} {names[pin - 1]:5s} confidence {sure:.2f}  {why}"
    for pin, why in sorted(learnt.missed.items()):
        yield f"# pin {pin:2d} {'NC':5s} confidence 0.00  not reached: {why}"
    for pin in sorted(learnt.idle):
        yield f"# pin {pin:2d} {'NC':5s} confidence 0.50  guessed: it {NOTHING}"
    if learnt.checked:
        yield f"# Held against the specimen at {learnt.checked} more looks, at random and by its own test: no difference."


def _block(learnt: Learnt, group: Sequence[Cell], variables: Mapping[int, str], number: int) -> Iterator[str]:
    yield "[[block]]"
    cell, n = group[0], len(learnt.inputs)
    several = len(group) > 1
    if several:
        yield f"each = [{', '.join(_quoted(str(number + k)) for k in range(len(group)))}]"
    mine = dict(variables)
    mine |= {i: "{}" + variables[i][len(str(number)) :] for i in cell.own}
    mine |= {n + k: "{}q" for k, pin in enumerate(learnt.states) if pin in cell.outputs}

    def text(of: str) -> str:
        return of if several else of.replace("{}", str(number))

    lines = [text(line) for line in statements(learnt, cell, mine)]
    used = [text(mine[i]) for i in range(n) if learnt.inputs[i] not in learnt.outputs and _named(text(mine[i]), lines)]
    if used:
        yield f"inputs = [{', '.join(map(_quoted, used))}]"
    wide = [text(mine[i]) for i, pin in enumerate(learnt.inputs) if pin in learnt.schmitt and text(mine[i]) in used]
    if wide:
        yield f"schmitt = [{', '.join(map(_quoted, wide))}]"
    for role in (Role.OUTPUT, Role.OPEN_COLLECTOR, Role.TRI_STATE, Role.BIDIRECTIONAL):
        pins = [text(out_name(cell, k)) for k, pin in enumerate(cell.outputs) if learnt.laws[pin].role is role]
        if pins:
            yield f"{kind(role)} = [{', '.join(map(_quoted, pins))}]"
    yield "logic = ["
    yield from (f"  {_quoted(line)}," for line in lines)
    yield "]"


def _named(name: str, lines: Sequence[str]) -> bool:
    """True if a name stands in a statement."""
    words = {word for line in lines for word in line.replace("!", " ").replace("(", " ").replace(")", " ").replace(",", " ").split()}
    return name in words


def _program(learnt: Learnt, names: Sequence[str]) -> Iterator[str]:
    """The walk from all inputs low; changes of one step are made one after the other."""
    words = []
    for changes in learnt.walk:
        words += [f"{names[pin - 1]}={'z' if level is None else int(level)}" for pin, level in changes if pin not in learnt.idle]
    for start in range(0, len(words), LINE):
        yield f"  {_quoted('; '.join(words[start : start + LINE]))},"
