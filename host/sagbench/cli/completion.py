"""`sagbench completion SHELL`: what makes the shell complete verbs and options.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from sagbench.cli import options

SHELLS = ("bash", "zsh", "tcsh")
EXAMPLES = """\
examples:
  bash: sagbench completion bash > ~/.local/share/bash-completion/completions/sagbench
  zsh:  sagbench completion zsh > ~/.zfunc/_sagbench        (a folder of $fpath)
"""


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(prog="sagbench completion", epilog=EXAMPLES, formatter_class=options.Help,
                                     description="Write a completion script for a shell to standard output.")  # fmt: skip
    parser.add_argument("shell", choices=SHELLS)
    return parser


def whole() -> argparse.ArgumentParser:
    """The whole command line as one parser, verbs with modules of their own among it."""
    from sagbench.cli.main import OWN, build_parser as root

    parser = root()
    verbs = next(action for action in parser._actions if isinstance(action, argparse._SubParsersAction))
    for verb in OWN:
        verbs.choices[verb] = import_module(f"sagbench.cli.{verb}").build_parser()
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `completion`; 0."""
    shell = build_parser().parse_args(list(words)).shell
    import shtab

    sys.stdout.write(shtab.complete(whole(), shell) + "\n")
    return 0
