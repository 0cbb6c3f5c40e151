# SPDX-License-Identifier: MIT
"""What every page has: one style sheet, a policy that forbids scripts and anything fetched, sections and tables."""
from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib import resources

from sagbench.report.markup import Markup, el, join, trusted
from sagbench.report.scale import nice_step

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
KEPT_TOGETHER = 16                       # a table of so many rows is not broken over two sheets


def whole(title: str, *body: Markup | None) -> str:
    """The page with this title, self-contained."""
    css = resources.files(__package__).joinpath("page.css").read_text(encoding="utf-8")
    head = el("head", el("meta", charset="utf-8"), el("meta", http_equiv="Content-Security-Policy", content=POLICY),
              el("meta", name="viewport", content="width=device-width, initial-scale=1"), el("title", title), el("style", trusted(css)))
    return "<!DOCTYPE html>\n" + el("html", head, el("body", *body), lang="en") + "\n"


def header(name: str, title: str, facts: Sequence[tuple[str, str]]) -> Markup:
    """The head of a page: what it is about, and facts; those that are empty are left out."""
    told = [join(el("dt", key), el("dd", value)) for key, value in facts if value]
    return el("header", el("h1", el("span", name, class_="part"), " ", el("span", title, class_="title")), el("dl", *told))


def section(title: str, *content: Markup | None) -> Markup:
    """A part of the page under its own heading."""
    return el("section", el("h2", title), *content)


def table(caption: str, heads: Sequence[str], rows: Sequence[Markup], numeric: Sequence[int] = (), kind: str | None = None) -> Markup:
    """A table whose rows are ready; `numeric`: columns that stand to the right; `kind`: a class of its own."""
    cells = [el("th", head, scope="col", class_="num" if i in numeric else None) if head else el("td") for i, head in enumerate(heads)]
    return el("div", el("table", el("caption", caption) if caption else None, el("thead", el("tr", *cells)), el("tbody", *rows), class_=kind),
              class_="wide keep" if len(rows) <= KEPT_TOGETHER else "wide")


def round_values(low: float, high: float, most: int = 5) -> Iterator[float]:
    """Round values from low to high, `most` steps or fewer.  low < high."""
    step = nice_step(high - low, most)
    number = int(-(-low // step))
    while number * step <= high:
        yield number * step
        number += 1
