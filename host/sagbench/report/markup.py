# SPDX-License-Identifier: MIT
"""Elements of HTML and SVG as text in which nothing from outside can become markup.

    >>> print(el("td", "5 < 6 & \\x1b", class_="num"))
    <td class="num">5 &lt; 6 &amp; &lt;U+001B&gt;</td>

A plain `str` is escaped, a `Markup` stands as it is; only this module makes `Markup`
out of strings it did not build itself (`trusted`, for the project's own style sheet).
"""
from __future__ import annotations

from html import escape

from sagbench.report.safe import visible

_EMPTY = frozenset({"meta", "br", "hr"})


class Markup(str):
    """Text that is markup already."""

    __slots__ = ()


Child = str | int | float | None
Attribute = str | int | float | None


def el(name: str, /, *children: Child, **attributes: Attribute) -> Markup:
    """An element.  Attributes: `class_` is class, `stroke_width` is stroke-width; None leaves one out."""
    shown = "".join(f' {_attribute(key)}="{escape(_number(value))}"'
                    for key, value in attributes.items() if value is not None)
    return Markup(f"<{name}{shown}>" if name in _EMPTY else f"<{name}{shown}>{join(*children)}</{name}>")


def join(*children: Child) -> Markup:
    """Children one after the other, each escaped if need be."""
    return Markup("".join(child if isinstance(child, Markup) else escape(_number(child))
                          for child in children if child is not None))


def trusted(text: str) -> Markup:
    """The project's own text, which holds no value from outside."""
    return Markup(text)


def _attribute(key: str) -> str:
    # SVG is case sensitive: viewBox and its like are written as they are, with no underscore in them.
    return key.rstrip("_").replace("_", "-")


def _number(value: Child) -> str:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")       # a hundredth of a pixel is enough
    return visible(str(value))
