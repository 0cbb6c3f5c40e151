# SPDX-License-Identifier: MIT
"""Statements of a definition as text again, as one would write them in a part file."""
from __future__ import annotations

from sagbench.parts.equations import Assign, Const, Expr, Name, Statement

_STRENGTH = {"?": 0, "|": 1, "^": 2, "&": 3, "!": 4}


def expression(expr: Expr, around: int = 0) -> str:
    """With no more parentheses than it needs."""
    if isinstance(expr, Name):
        return expr.text
    if isinstance(expr, Const):
        return "undefined" if expr.value is None else "1" if expr.value else "0"
    own = _STRENGTH[expr.sign]
    if expr.sign == "!":
        return "!" + expression(expr.args[0], own)
    if expr.sign == "?":
        text = f"{expression(expr.args[0], 1)} ? {expression(expr.args[1])} : {expression(expr.args[2])}"
    else:
        text = f"{expression(expr.args[0], own)} {expr.sign} {expression(expr.args[1], own + 1 if _mixes(expr.args[1], expr.sign) else own)}"
    return f"({text})" if own < around else text


def _mixes(right: Expr, sign: str) -> bool:
    return not isinstance(right, Name | Const) and right.sign != "!" and _STRENGTH[right.sign] <= _STRENGTH[sign] and right.sign != sign


def statement(said: Statement) -> str:
    """One line of `logic`."""
    if isinstance(said, Assign):
        when = f" when {expression(said.enable)}" if said.enable is not None else ""
        return f"{said.target.text} = {expression(said.value)}{when}"
    how = f"on {said.edge}" if said.edge else "while"
    forced = "".join(f", {word} {expression(part)}" for word, part in (("clear", said.clear), ("set", said.set)) if part is not None)
    return f"{said.target.text} := {expression(said.next)} {how} {expression(said.clock)}{forced}"
