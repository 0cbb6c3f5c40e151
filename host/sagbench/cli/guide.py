"""`sagbench guide`: the pages that came with it, on the terminal.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from importlib import resources

from sagbench.cli import options, output

PAGES = {
    "evening": ("guide/EVENING.md", "an evening at the bench, from the empty socket to a box of chips"),
    "own-part": ("parts/YOUR-OWN-PART.md", "a part file of your own, step by step"),
    "language": ("parts/LANGUAGE.md", "the language of part files"),
    "methods": ("measure/METHODS.md", "how each figure is measured"),
    "budget": ("measure/BUDGET.md", "what the uncertainties are made of"),
}
EXAMPLES = """\
examples:
  sagbench guide
  sagbench guide own-part
  sagbench guide evening --plain

pages:
""" + "".join(f"  {name:<10}{told}\n" for name, (_, told) in PAGES.items())


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(prog="sagbench guide", epilog=EXAMPLES, formatter_class=options.Help, description="Read the user's guide.")
    parser.add_argument("page", nargs="?", choices=list(PAGES), default="evening", help="which page (default: evening)")
    parser.add_argument("--plain", action="store_true", help="the text as it was written (so in a pipe)")
    return parser


def text(page: str) -> str:
    """A page as it was written, without remarks for the tests."""
    written = resources.files("sagbench").joinpath(PAGES[page][0]).read_text(encoding="utf-8")
    return re.sub(r"^<!--.*-->\n", "", written, flags=re.MULTILINE)


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `guide`; 0."""
    arguments = build_parser().parse_args(list(words))
    if arguments.plain or not sys.stdout.isatty():
        output.write("-", text(arguments.page))
        return 0
    from rich.console import Console
    from rich.markdown import Markdown

    console = Console()
    with console.pager(styles=True):
        console.print(Markdown(text(arguments.page)))
    return 0
