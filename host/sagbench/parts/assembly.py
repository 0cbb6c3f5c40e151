"""From the data of a part file, of the right shape already, to a Definition: what must hold between its parts.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from . import equations, program_checks, pulses, ratings
from .definition import Block, Definition, Pinout
from .equations import Assign, EquationError, Register, Statement
from .model import Role
from .shape import Mistake, nearest, show

_SUPPLY, _GROUND, _UNUSED = frozenset({"VCC", "VDD"}), frozenset({"GND", "VSS"}), "NC"
_MOST_MA, _MOST_UA = 1000, 100_000       # supply current: what is above was meant in the other unit
_ROLE_KEYS = {"inputs": Role.INPUT, "outputs": Role.OUTPUT, "open_collector": Role.OPEN_COLLECTOR,
              "tri_state": Role.TRI_STATE, "bidirectional": Role.BIDIRECTIONAL}
_WITHOUT_SIGNALS = frozenset({"function", "title", "notes", "sources", "static", "idle", "program", "march", "family"})


class Builder:
    """Turns shaped data into a Definition and collects what does not hold together."""

    def __init__(self, data: Mapping[str, Any], bad: set[tuple[str | int, ...]]) -> None:
        self.data, self.bad = data, bad
        self.mistakes: list[Mistake] = []
        self.family = ""                 # whose logic is being looked at, if that depends on the family

    def build(self, origin: str) -> tuple[Definition, list[Mistake]]:
        data = self.data
        pinouts = tuple(self.pinout(i, p) for i, p in enumerate(self._tables("pinout")))
        blocks = [tuple(self.blocks(i, entry)) for i, entry in enumerate(self._tables("block"))]
        self.check_block_families()
        logics = self.logics()
        made = [self.definition(origin, pinouts, blocks, place, families) for place, families in enumerate(logics)]
        made[0] = replace(made[0], families=data.get("family", {}), others=tuple(made[1:]))
        self.check_pinout_families(made[0])
        for one, families in zip(made, logics, strict=True):
            self.family = families[0]
            self.check_signals(one)
            self.check_pins(one, families)
            self.check_figures(one, families)
            if self.knows_signals():
                program_checks.check(self, one)
            if not self.mistakes and not self.bad:
                pulses.check(self, one)
        return made[0], self.mistakes

    def knows_signals(self) -> bool:
        """Whether the names of pins and buses can be relied on: if not, what is said of them cannot be looked at."""
        paths = [*self.bad, *(m.path for m in self.mistakes)]
        return all(path[0] in _WITHOUT_SIGNALS or path[0] == "block" and path[2:3] in (("logic",), ("program",), ("idle",)) for path in paths)

    def logics(self) -> list[list[str]]:
        """Families with the same blocks together, in the order of the file."""
        found: dict[tuple[int, ...], list[str]] = {}
        for family in self.data.get("family") or [""]:
            self.family = family
            found.setdefault(tuple(i for i, _ in self.entries()), []).append(family)
        return list(found.values())

    def definition(self, origin: str, pinouts: tuple[Pinout, ...], blocks: list[tuple[Block, ...]], place: int,
                   families: list[str]) -> Definition:
        """The logic of these families; `place` 0 is that of the first."""
        data, self.family = self.data, families[0]
        mine = tuple(block for i, _ in self.entries() for block in blocks[i])
        names = {name for block in mine for name in block.roles}
        buses = {name: tuple(pins) for name, pins in data.get("bus", {}).items()
                 if not self._is_split() or names & set(pins)}
        return Definition(data.get("function", ""), data.get("title", ""), pinouts, mine,
                          {f: data.get("family", {}).get(f, {}) for f in families}, buses,
                          data.get("idle", ""), tuple(data.get("program", ())), data.get("march", {}), data.get("static") == "yes",
                          tuple(data.get("notes", ())),
                          tuple(data.get("sources", ())), origin, variant=families[0] if place else "")

    def _is_split(self) -> bool:
        return any("families" in entry for entry in self._tables("block"))

    def entries(self) -> Iterator[tuple[int, Mapping[str, Any]]]:
        """The block tables of the family that is being looked at, with their places."""
        for index, entry in enumerate(self._tables("block")):
            if self.family in entry.get("families", (self.family,)):
                yield index, entry

    def _tables(self, key: str) -> list[Any]:
        tables: list[Any] = self.data.get(key, [])
        return tables

    def wrong(self, path: tuple[str | int, ...], found: str, expected: str, advice: str = "", *, at_key: bool = False,
              column: int | None = None) -> None:
        """Note a mistake, unless something at or around that path is known to be wrong already."""
        if not any(path[:end] in self.bad for end in range(len(path) + 1)):
            self.mistakes.append(Mistake(path, found, expected, advice, at_key, column))

    def pinout(self, index: int, entry: Mapping[str, Any]) -> Pinout:
        pins = tuple(entry.get("pins", ()))
        for name, count in Counter(pins).items():
            if count > 1 and name not in _SUPPLY | _GROUND | {_UNUSED}:
                second = [i for i, pin in enumerate(pins) if pin == name][1]
                self.wrong(("pinout", index, "pins", second), f'"{name}" a second time', "each name once",
                           "only supply, ground and NC pins may share a name")
        if len(pins) % 2:
            self.wrong(("pinout", index, "pins"), f"{len(pins)} pins", "an even number of pins",
                       "write NC for a pin that is not connected")
        return Pinout(pins, tuple(entry.get("families", ())), _SUPPLY | set(entry.get("supply", ())),
                      _GROUND | set(entry.get("ground", ())), frozenset(entry.get("analog", ())), frozenset(entry.get("grounded", ())))

    def blocks(self, index: int, entry: Mapping[str, Any]) -> Iterator[Block]:
        for each in entry.get("each", [""]):
            roles = {name.replace("{}", each): role for key, role in _ROLE_KEYS.items()
                     for name in entry.get(key, ())}
            read = (self.statement(("block", index, "logic", i), text, each)
                    for i, text in enumerate(entry.get("logic", ())))
            statements = tuple(statement for statement in read if statement)
            yield Block(each, roles, frozenset(n.replace("{}", each) for n in entry.get("schmitt", ())),
                        statements, entry.get("idle", "").replace("{}", each),
                        tuple(p.replace("{}", each) for p in entry.get("program", ())), pulses.filled(entry, each))

    def statement(self, path: tuple[str | int, ...], text: str, each: str) -> Statement | None:
        try:
            return equations.parse(text.replace("{}", each))
        except EquationError as error:
            column = equations.unfilled(text, each, error.column)
            self.wrong(path, error.found, error.expected, error.advice, column=column)
            return None

    def check_signals(self, made: Definition) -> None:
        """Each signal has exactly one statement, each name read exists, nothing feeds itself."""
        paths = self._statement_paths()
        known = set(made.roles) | {s.target.text for s, _, _ in paths}
        said: dict[str, tuple[str | int, ...]] = {}
        for statement, path, each in paths:
            target, role = statement.target, made.roles.get(statement.target.text)
            if target.text in said:
                self.wrong(path, f"a second statement for {target.text}", "one statement for each signal")
            said[target.text] = path
            if role is Role.INPUT:
                self.wrong(path, f"a statement for {target.text}, an input", "statements for outputs, wires and state "
                           "bits", "list it under outputs if it is one")
            self.check_enable(statement, role, path)
            for name in equations.statement_names(statement):
                if name.text not in known:
                    self.wrong(path, f"'{name.text}'", "a pin, wire or state bit of this file",
                               nearest(name.text, known) or "list it under inputs",
                               column=equations.unfilled(self._text(path), each, name.column))
        for index, entry in self.entries():
            inputs = {n.replace("{}", e) for e in entry.get("each", [""]) for key in ("inputs", "bidirectional") for n in entry.get(key, ())}
            for i, name in enumerate(entry.get("schmitt", ())):
                if (full := name.replace("{}", entry.get("each", [""])[0])) not in inputs:
                    self.wrong(("block", index, "schmitt", i), f'"{full}"', "an input of this block", nearest(full, inputs))
            if any(m.path[:3] == ("block", index, "logic") for m in self.mistakes):
                continue                          # it may be the statement that could not be read
            for key in _ROLE_KEYS:
                for i, name in enumerate(entry.get(key, ())):
                    each = entry.get("each", [""])[0]
                    full = name.replace("{}", each)
                    self.check_role(("block", index, key, i), full, _ROLE_KEYS[key], made.roles[full])
                    if key != "inputs" and full not in said:
                        self.wrong(("block", index, key, i), f"no statement for {full}",
                                   f"a statement `{full} = ...` in logic")
        before = len(self.mistakes)
        self.check_loops(paths)
        if made.origin != "library" and len(self.mistakes) == before:        # the library's are none of them
            self.check_depth(made, paths)

    def check_role(self, path: tuple[str | int, ...], name: str, said: Role, holds: Role) -> None:
        """A signal is of one kind, and no rail."""
        if name in _SUPPLY | _GROUND | {_UNUSED}:
            self.wrong(path, f'"{name}", a name of rails and empty pins', "the name of a signal", "it stands in `pins` only")
        elif said is not holds:
            self.wrong(path, f'"{name}", which is {holds} elsewhere in this file', "each pin in lists of one kind",
                       "a pin that is both goes under bidirectional")

    def check_enable(self, statement: Statement, role: Role | None, path: tuple[str | int, ...]) -> None:
        has = isinstance(statement, Assign) and statement.enable is not None
        wants = role in (Role.TRI_STATE, Role.BIDIRECTIONAL)
        name = statement.target.text
        if has and not wants:
            self.wrong(path, f"`when` for {name}", "`when` for tri_state and bidirectional pins only",
                       f"list {name} under tri_state")
        if wants and not has:
            self.wrong(path, f"no `when` for {name}", f"`{name} = ... when ...`", "say in which state it drives")
        if role is not None and isinstance(statement, Register):
            self.wrong(path, f"a state bit called like pin {name}", "a state bit with a name of its own",
                       f"write `q{name} := ...` and `{name} = q{name}`")

    def check_loops(self, paths: list[tuple[Statement, tuple[str | int, ...], str]]) -> None:
        reads = {s.target.text: {n.text for n in equations.statement_names(s)} for s, _, _ in paths
                 if isinstance(s, Assign) and not self._bidirectional(s)}
        done: set[str] = set()

        def visit(name: str, trail: tuple[str, ...]) -> tuple[str, ...]:
            if name in trail:
                return trail[trail.index(name):] + (name,)
            if name in done or name not in reads or len(trail) > equations.DEEPEST_WIRES:
                return ()
            loop = next((found for read in sorted(reads[name]) if (found := visit(read, (*trail, name)))), ())
            done.add(name)
            return loop

        for statement, path, _ in paths:
            if loop := visit(statement.target.text, ()):
                self.wrong(path, "a loop " + " <- ".join(loop), "outputs that do not feed themselves",
                           "use a state bit (`:=`) for what the part remembers")

    def check_depth(self, made: Definition, paths: list[tuple[Statement, tuple[str | int, ...], str]]) -> None:
        """No chain of wires so long that it could not be worked out."""
        wires = {name: 0 for name, s in ((s.target.text, s) for s, _, _ in paths)
                 if isinstance(s, Assign) and made.roles.get(name) is not Role.BIDIRECTIONAL}
        for _ in range(equations.DEEPEST_WIRES + 2):
            before = dict(wires)
            for statement, path, _ in paths:
                if statement.target.text not in wires or not isinstance(statement, Assign):
                    continue
                deep = 1 + max(equations.depth(statement.value, before), equations.depth(statement.enable, before))
                if deep > equations.DEEPEST_WIRES:
                    self.wrong(path, f"{deep} wires and operators within one another", f"{equations.DEEPEST_WIRES} or less",
                               "say it in fewer steps")
                    return
                wires[statement.target.text] = deep
            if wires == before:
                return

    def _bidirectional(self, assign: Assign) -> bool:
        return any(name.replace("{}", each) == assign.target.text for _, entry in self.entries()
                   for name in entry.get("bidirectional", ()) for each in entry.get("each", [""]))

    def _text(self, path: tuple[str | int, ...]) -> str:
        node: Any = self.data
        for part in path:
            node = node[part]
        return str(node)

    def _statement_paths(self) -> list[tuple[Statement, tuple[str | int, ...], str]]:
        found: list[tuple[Statement, tuple[str | int, ...], str]] = []
        for index, entry in self.entries():
            for each in entry.get("each", [""]):
                for i, text in enumerate(entry.get("logic", ())):
                    try:
                        found.append((equations.parse(text.replace("{}", each)), ("block", index, "logic", i), each))
                    except EquationError:
                        pass                      # noted by `statement`
        return found

    def check_pins(self, made: Definition, families: list[str]) -> None:
        """Every signal stands in every pinout of these families, every name of a pinout is known."""
        elsewhere = {f for p in made.pinouts for f in p.families}
        for index, pinout in enumerate(made.pinouts):
            if self._is_split() and not (set(pinout.families) or set(families) - elsewhere) & set(families):
                continue
            plain = pinout.supply | pinout.ground | pinout.analog | {_UNUSED}
            for key in ("supply", "ground", "analog"):
                for i, name in enumerate(self._tables("pinout")[index].get(key, ())):
                    if name not in pinout.pins:
                        self.wrong(("pinout", index, key, i), f'"{name}"', "a name of `pins`", nearest(name, pinout.pins))
                    elif name in made.roles:
                        self.wrong(("pinout", index, key, i), f'"{name}", which a block lists', "a pin that is no signal",
                                   "take it out of one of them")
            for i, name in enumerate(self._tables("pinout")[index].get("grounded", ())):
                if name not in pinout.analog:
                    self.wrong(("pinout", index, "grounded", i), f'"{name}"', "a name of `analog`", nearest(name, pinout.analog))
            missing = [name for name in made.roles if name not in pinout.pins]
            strange = 0
            for i, name in enumerate(pinout.pins):
                strange += name in pinout.pins[:i] and name not in plain
                if name not in plain and name not in made.roles:
                    strange += 1
                    self.wrong(("pinout", index, "pins", i), f'"{name}"', "a pin that a block lists",
                               f'did you mean "{missing[0]}"?' if len(missing) == 1 else nearest(name, missing) or
                               "list it under inputs or outputs, or write NC")
            for name in missing if len(missing) > strange else ():     # else each is one of the strange ones, misspelt
                self.wrong(("pinout", index, "pins"), f"no {name}", "every input and output of the blocks")
            for kind, names in (("supply", pinout.supply), ("ground", pinout.ground)):
                if not names & set(pinout.pins):
                    self.wrong(("pinout", index, "pins"), f"no {kind} pin", f"a {kind} pin",
                               "write VCC and GND, or name it with `supply` or `ground`")

    def check_block_families(self) -> None:
        """Each family that a block names is there, each family has a block."""
        families = self.data.get("family", {})
        for index, entry in enumerate(self._tables("block")):
            for i, name in enumerate(entry.get("families", ())):
                if name not in families:
                    self.wrong(("block", index, "families", i), f'"{name}"', "a family of this file",
                               nearest(name, families) or f"write [family.{name}] as well")
        for name in families:
            self.family = name
            if not list(self.entries()):
                self.wrong(("family", name), f"family {name}", "a block for it", "add it to the `families` of a block",
                           at_key=True)

    def check_pinout_families(self, made: Definition) -> None:
        """Each family has a pinout, and only one."""
        general = [p for p in made.pinouts if not p.families]
        named = [f for p in made.pinouts for f in p.families]
        if len(general) > 1:
            self.wrong(("pinout", 1), "two pinouts without `families`", "`families` with all but one", at_key=True)
        for name in made.families:
            if not general and name not in named:
                self.wrong(("family", name), f"family {name}", "a pinout for it",
                           "add it to the `families` of a pinout", at_key=True)

    def check_figures(self, made: Definition, families: list[str]) -> None:
        """Figures of single pins name pins that are there."""
        for name in families:
            entry = made.families.get(name, {})
            for key, most, other_unit in (("icc_ma", _MOST_MA, "microamperes are icc_ua"), ("icc_ua", _MOST_UA, "milliamperes are icc_ma")):
                for state, said in entry.get(key, {}).items():
                    path = ("family", name, key, state)
                    figure = ratings.as_table(said, "max")
                    typical, top = figure.get("typ", 0), figure.get("max", 0)
                    if "" in (typical, top):              # of the wrong kind, and said so already
                        continue
                    for other in (top, *(each.get("max", 0) for each in figure.get("also", ()))):
                        if other > most:
                            self.wrong(path, show(other), f"{most} or less", other_unit)
                    if typical > top:
                        self.wrong(path, f"typically {show(typical)}, at most {show(top)}", "[typical, maximum]", "the smaller one first")
            for key in ("iil_ma", "iih_ua"):
                for pin in entry.get(key, {}):
                    if not matching(pin, made.roles):
                        self.wrong(("family", name, key, pin), f"'{pin}'", "the name of a pin (* stands for anything)",
                                   nearest(pin, made.roles), at_key=True)
                self.check_patterns(("family", name, key), entry.get(key, {}), made.roles)
            for i, output in enumerate(entry.get("output", ())):
                if "drive" in output and output["drive"] not in (known := ratings.drives(name)):
                    self.wrong(("family", name, "output", i, "drive"), show(output["drive"]), "a drive of the family: " + (", ".join(known) or "it has none"),
                               nearest(output["drive"], known))
                for j, level in enumerate(output.get("voh", ())):
                    if "min" not in level and any("min" in other for other in level.get("also", ())):
                        self.wrong(("family", name, "output", i, "voh", j, "also"), "`min` of another source", "levels given the same way",
                                   "turn it into a drop below the supply too, or leave it out")
                for j, pin in enumerate(output.get("pins", ())):
                    if not matching(pin, made.roles):
                        self.wrong(("family", name, "output", i, "pins", j), f"'{pin}'",
                                   "the name of a pin (* stands for anything)", nearest(pin, made.roles))

    def check_patterns(self, path: tuple[str | int, ...], figures: Mapping[str, float], pins: Mapping[str, Any]) -> None:
        """No pin gets two figures: `*K` stands for CLK too.  A pin's own name goes before any pattern."""
        for pin in pins:
            fits = [pattern for pattern in figures if "*" in pattern and pin in matching(pattern, pins)]
            other = next((p for p in fits if figures[p] != figures[fits[0]]), None)
            if other and pin not in figures:
                self.wrong((*path, other), f"'{other}', which stands for {pin} as '{fits[0]}' does", "one figure for each pin",
                           f"write {pin} by its name", at_key=True)


def matching(pattern: str, pins: Mapping[str, Any]) -> list[str]:
    """Pins a name or a pattern with * stands for."""
    as_regex = re.compile(".*".join(map(re.escape, pattern.split("*"))))
    return [pin for pin in pins if as_regex.fullmatch(pin)]
