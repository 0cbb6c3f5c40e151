"""The statements of a part file: what an output is, and what a state bit becomes.

    Y = !(A & B)                                    an output or an inner wire
    Y = A when !G                                   a tri-state driver
    q := D on rising CLK, clear !CLR, set !PRE      an edge-triggered bit
    q := D while LE                                 a transparent latch

Operators by binding strength: ! & ^ | ?: and parentheses; the constants are 0, 1 and `undefined`.
A statement is data: it is parsed here, compiled by `behaviour`, and can do nothing else.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

KEYWORDS = frozenset({"when", "on", "rising", "falling", "while", "clear", "set", "undefined"})
DEEPEST = 64          # operators within one another, everything that walks an expression calls itself
LONGEST = 4000        # characters of a statement
DEEPEST_WIRES = 128   # the same with every wire's own expression put in its place
_TOKEN = re.compile(r"\s*(?:(?P<name>[A-Za-z0-9_]+)|(?P<sign>:=|[=!&^|?:(),])|(?P<odd>\S))")


class EquationError(Exception):
    """A statement that cannot be read: `column` is 0-based in the statement's text."""

    def __init__(self, column: int, found: str, expected: str, advice: str = "") -> None:
        super().__init__(f"found {found}, expected {expected}")
        self.column, self.found, self.expected, self.advice = column, found, expected, advice


@dataclass(frozen=True)
class Name:
    """A signal: pin, wire or state bit."""

    text: str
    column: int


@dataclass(frozen=True)
class Const:
    """0 or 1; None for `undefined`: a level that the data book leaves open."""

    value: bool | None


@dataclass(frozen=True)
class Op:
    """An operator and its operands: "!" has one, "&" "^" "|" two, "?" three (condition, then, else)."""

    sign: str
    args: tuple[Expr, ...]


Expr = Name | Const | Op


@dataclass(frozen=True)
class Assign:
    """`target = value [when enable]`."""

    target: Name
    value: Expr
    enable: Expr | None = None


@dataclass(frozen=True)
class Register:
    """`target := next on edge clock` or `... while gate`, with asynchronous clear and set."""

    target: Name
    next: Expr
    clock: Expr                 # the clock, or the gate of a latch
    edge: str                   # "rising", "falling"; "" for a latch
    clear: Expr | None = None
    set: Expr | None = None


Statement = Assign | Register


def names(expr: Expr | None) -> Iterator[Name]:
    """Every signal an expression reads, in order of appearance."""
    if isinstance(expr, Name):
        yield expr
    elif isinstance(expr, Op):
        for arg in expr.args:
            yield from names(arg)


def depth(expr: Expr | None, wires: Mapping[str, int]) -> int:
    """Operators within one another, 2 for `!A & B`; a wire counts as much as `wires` says."""
    if isinstance(expr, Op):
        return 1 + max(depth(arg, wires) for arg in expr.args)
    return wires.get(expr.text, 0) if isinstance(expr, Name) else 0


def statement_names(statement: Statement) -> Iterator[Name]:
    """Every signal a statement reads."""
    if isinstance(statement, Assign):
        parts: tuple[Expr | None, ...] = (statement.value, statement.enable)
    else:
        parts = (statement.next, statement.clock, statement.clear, statement.set)
    for part in parts:
        yield from names(part)


@dataclass(frozen=True)
class _Token:
    text: str
    column: int
    is_name: bool


_SPLIT = "give parts of it names of their own: `PART = A & B`"


class _Reader:
    """Recursive descent over the tokens of one statement."""

    def __init__(self, text: str) -> None:
        self.tokens: list[_Token] = []
        self.level = 0                   # of the operand that is being read
        if len(text) > LONGEST:
            raise EquationError(LONGEST, f"a statement of {len(text)} characters", f"{LONGEST} or less", _SPLIT)
        place = 0
        while match := _TOKEN.match(text, place):
            if odd := match["odd"]:
                raise EquationError(match.start("odd"), f"'{odd}'", "a name or an operator",
                                    "not is !, and is &, or is |, exclusive or is ^")
            self.tokens.append(_Token(match["name"] or match["sign"], match.start(match.lastgroup or 0),
                                      match["name"] is not None))
            place = match.end()
        self.end = len(text.rstrip())
        self.at = 0

    def peek(self) -> str:
        return self.tokens[self.at].text if self.at < len(self.tokens) else ""

    def take(self, *wanted: str) -> str:
        """Step over the next token if it is one of these; "" if not."""
        if self.peek() in wanted:
            self.at += 1
            return self.tokens[self.at - 1].text
        return ""

    def fail(self, expected: str, advice: str = "") -> EquationError:
        if self.at < len(self.tokens):
            token = self.tokens[self.at]
            return EquationError(token.column, f"'{token.text}'", expected, advice)
        return EquationError(self.end, "the end of the statement", expected, advice)

    def need(self, *wanted: str, advice: str = "") -> str:
        if token := self.take(*wanted):
            return token
        raise self.fail(" or ".join(f"'{w}'" for w in wanted), advice)

    def name(self) -> Name:
        if self.at < len(self.tokens):
            token = self.tokens[self.at]
            if token.is_name and token.text not in KEYWORDS and not token.text.isdigit():
                self.at += 1
                return Name(token.text, token.column)
        raise self.fail("a signal name", "a name has letters and digits, not digits alone")

    def statement(self) -> Statement:
        target = self.name()
        if self.need("=", ":=", advice="write `Y = ...` for a wire or an output, `q := ...` for a state bit") == "=":
            value = self.expr()
            enable = self.expr() if self.take("when") else None
            self.finish("'when', an operator or the end")
            return Assign(target, value, enable)
        return self.register(target)

    def register(self, target: Name) -> Register:
        following = self.expr()
        edge = ""
        if self.need("on", "while", advice="a state bit needs `on rising CLK`, `on falling CLK` or `while LE`") == "on":
            edge = self.need("rising", "falling")
        clock = self.expr()
        forced: dict[str, Expr] = {}
        while self.take(",") or self.peek() in ("clear", "set"):
            word = self.need("clear", "set")
            if word in forced:
                self.at -= 1
                raise self.fail("one clause of each kind", f"join the conditions: {word} X | Y")
            forced[word] = self.expr()
        self.finish("', clear', ', set' or the end")
        return Register(target, following, clock, edge, forced.get("clear"), forced.get("set"))

    def finish(self, expected: str) -> None:
        if self.at < len(self.tokens):
            raise self.fail(expected)

    def expr(self) -> Expr:
        self.deeper()
        condition = self.binary("|^&")
        if self.take("?"):
            chosen = self.expr()
            self.need(":")
            condition = Op("?", (condition, chosen, self.expr()))
        self.level -= 1
        return condition

    def binary(self, signs: str) -> Expr:
        if not signs:
            return self.unary()
        parts = [self.binary(signs[1:])]
        while self.take(signs[0]):
            parts.append(self.binary(signs[1:]))
        left = parts[0]
        if len(parts) > DEEPEST:
            raise self.too_deep()
        for part in parts[1:]:
            left = Op(signs[0], (left, part))
        return left

    def deeper(self) -> None:
        self.level += 1
        if self.level > DEEPEST:
            raise self.too_deep()

    def too_deep(self) -> EquationError:
        return self.fail(f"at most {DEEPEST} operators within one another", _SPLIT)

    def unary(self) -> Expr:
        if self.take("!"):
            self.deeper()
            operand = self.unary()
            self.level -= 1
            return Op("!", (operand,))
        if self.take("("):
            inner = self.expr()
            self.need(")")
            return inner
        if constant := self.take("0", "1", "undefined"):
            return Const(None if constant == "undefined" else constant == "1")
        return self.name()


def parse(text: str) -> Statement:
    """Read one statement.  Raises EquationError with the column of the first thing that does not fit."""
    return _Reader(text).statement()


def parse_expr(text: str) -> Expr:
    """Read one expression.  Raises EquationError."""
    reader = _Reader(text)
    expr = reader.expr()
    reader.finish("an operator or the end")
    return expr


def unfilled(text: str, each: str, column: int) -> int:
    """A column in a text with {} filled in, counted back to the text as it stands in the file."""
    at = 0
    for part in text.split("{}")[:-1]:
        at += len(part)
        if column < at:
            break
        column += 2 - len(each) if column >= at + len(each) else at - column
        at += 2
    return column
