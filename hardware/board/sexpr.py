"""A reader of KiCad's files: S-expressions -> nested lists of strings.

KiCad's file formats are published (dev-docs.kicad.org, "S-expression format").  This reader shares nothing with
KiCad's own code, so that what it finds in a board is a second opinion.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

Node = list[Any]  # [name, item or node, ...]


class Quoted(str):
    """A string that stood in quotes, so that it can be written back as it was."""


TOKEN = re.compile(r'\s*(?:([()])|"((?:[^"\\]|\\.)*)"|([^\s()"]+))')


def parse(text: str) -> Node:
    """The first expression of a text. ValueError if it ends before its brackets close."""
    stack: list[Node] = [[]]
    for match in TOKEN.finditer(text):
        bracket, quoted, plain = match.groups()
        if bracket == "(":
            stack.append([])
        elif bracket == ")":
            done = stack.pop()
            if not stack:
                raise ValueError(f"a bracket too many at character {match.start()}")
            stack[-1].append(done)
            if len(stack) == 1:
                return done
        else:
            stack[-1].append(plain if quoted is None else Quoted(re.sub(r"\\(.)", lambda m: "\n" if m[1] == "n" else m[1], quoted)))
    raise ValueError("the text ends before its brackets close")


def write(node: Node, depth: int = 0) -> str:
    """The expression as text, nodes that hold nodes over several lines."""
    words = []
    for item in node:
        if isinstance(item, list):
            inner = write(item, depth + 1)
            words.append(("\n" + "  " * (depth + 1) if any(isinstance(i, list) for i in item) or len(node) > 6 else " ") + inner)
        else:
            plain = isinstance(item, Quoted) or not re.fullmatch(r'[^\s()"]+', str(item))
            words.append(" " + ('"' + re.sub(r'(["\\])', r"\\\1", item).replace("\n", "\\n") + '"' if plain else str(item)))
    return "(" + "".join(words).lstrip() + ")"


def children(node: Node, name: str) -> Iterator[Node]:
    """Nodes of that name directly below."""
    return (item for item in node[1:] if isinstance(item, list) and item and item[0] == name)


def child(node: Node, name: str) -> Node | None:
    """The first node of that name directly below, or None."""
    return next(children(node, name), None)


def numbers(node: Node | None) -> list[float]:
    """A node's items as numbers: (at 1 2 90) -> [1, 2, 90]; words among them are left out; None gives []."""
    out = []
    for item in (node or [])[1:]:
        try:
            out.append(float(item))
        except (TypeError, ValueError):
            continue
    return out
