# SPDX-License-Identifier: MIT
"""Entry of the `sagbench` command: arguments, the verb, and one sentence for everything that goes wrong.

Only argparse and the error tree are imported here, so that `--help` comes at once.
"""
from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from sagbench.cli import interrupts, log, options, settings
from sagbench.errors import EXIT_INTERRUPTED, EXIT_USAGE, SagbenchError

EXIT_INTERNAL = 70                       # EX_SOFTWARE of BSD's sysexits.h
ASKS = {"-h", "--help", "--version"}     # what nothing must stand in the way of

EXIT_CODES = """\
exit codes:
    0  sound
    1  not sound: a limit is broken, or the chip is about to go
    2  the command cannot be carried out as given
    3  the fixture, its supply or the link to it failed
    4  no verdict: cannot tell, or not finished
   70  a mistake in sagbench itself; the message names a file for a report
  130  interrupted (Ctrl-C, or SIGTERM)
"""
# Verbs whose words are read in modules of their own, cli/VERB.py or cli/VERB/, by their `run`.
OWN = {
    "explain": "show what the uncertainty of a measured figure is made of",
    "identify": "find out what an unmarked chip is",
    "learn": "a draft of a part file from one specimen of a part that is in no library",
    "lot": "a box of chips, one after the other",
    "hold": "hold a chip under power, set its pins by hand, watch levels and current",
    "soak": "one chip, again and again: what comes and goes, what drifts",
    "log": "the notebook: list, report again, history, export",
    "parts": "list, find, show, check and begin definitions of parts",
    "replace": "what can stand in for a part",
    "fixture": "ask about the fixture, test it, calibrate it",
    "firmware": "the image for the controller board",
    "guide": "read the user's guide",
    "completion": "write a completion script for the shell",
}


def build_parser() -> argparse.ArgumentParser:
    """The whole command line, without what the verbs do."""
    parser = argparse.ArgumentParser(
        prog="sagbench", description="Measure a 14 to 24 pin logic chip under load and say whether to trust it.",
        epilog=EXIT_CODES + "\n" + options.CAUTION, formatter_class=options.Help)
    parser.add_argument("--version", action="store_true", help="print the version and end")
    verbs = parser.add_subparsers(dest="verb", metavar="VERB")

    sweep = verbs.add_parser("sweep", help="measure the chip in the socket",
                             epilog="example:\n  sagbench sweep 74LS04 --html report.html\n\n" + EXIT_CODES + "\n" + options.CAUTION,
                             formatter_class=options.Help,
                             description="Measure the chip in the socket and report on every output of it.")
    sweep.add_argument("part", metavar="PART", help="what is printed on the chip: 74LS04, SN74LS04N")
    options.add_fixture(sweep)
    options.add_library(sweep)
    options.add_guard(sweep)
    sweep.add_argument("--like", metavar="FILE", nargs="+", action="extend", default=[],
                       help="records of your own sound specimens of this part, to compare it with (five or more)")
    _add_report(sweep)
    sweep.add_argument("--json", metavar="FILE", help="write the record; - for standard output, in place of the report")
    options.add_calibration(sweep)
    kept = sweep.add_argument_group("the log", "`sagbench log` shows it; what is said of the chip is kept with it")
    kept.add_argument("--log", action="store_true", help="keep the measurement in the log")
    log.add_facts(kept)
    sweep.add_argument("--quiet", action="store_true", help="no report and no progress, only files and exit code")

    show = verbs.add_parser("report", help="report again on a record written with --json",
                            epilog="example:\n  sagbench report chip.json --guard 0.5 --risk\n\n" + EXIT_CODES,
                            formatter_class=options.Help,
                            description="Report on a record written by `sagbench sweep --json`; the exit code is its verdict.")
    show.add_argument("record", metavar="FILE", help="the record; - for standard input")
    options.add_guard(show, "judge again with this guard band (default: as it was judged)")
    show.add_argument("--risk", action="store_true", help="print how likely each verdict, and that on the chip, is wrong")
    _add_report(show)

    for verb, told in OWN.items():
        verbs.add_parser(verb, help=told, add_help=False)
    return parser


def _add_report(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--html", metavar="FILE", help="write the report as one page")
    parser.add_argument("--no-color", action="store_true", help="no colour (so does the variable NO_COLOR)")
    parser.add_argument("--plain", action="store_true", help="ASCII only, no colour, no progress")


def main(argv: Sequence[str] | None = None) -> int:
    """Carry out one command line; returns the exit code and never raises but for SystemExit of argparse."""
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        with interrupts.terminable():
            if not ASKS.isdisjoint(words) and (wrong := settings.none_if_wrong()):
                print(f"sagbench: {wrong}", file=sys.stderr)
            code = _run(build_parser(), words)
            sys.stdout.flush()
            return code
    except SagbenchError as error:
        return complain(error)
    except KeyboardInterrupt:
        print("sagbench: interrupted.", file=sys.stderr)
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        from sagbench.cli.output import forget_stdout
        forget_stdout()
        return 0
    except Exception as error:                              # the one place that may catch everything
        from sagbench.cli import crash, output
        if isinstance(error, OSError) and error.errno in output.FULL:
            output.forget_stdout()                          # the interpreter's last flush would fail again
            print("sagbench: the output cannot be written: no space left on the device; free some and try again.",
                  file=sys.stderr)
            return EXIT_USAGE
        print(f"sagbench: {crash.sentence(error, words)}", file=sys.stderr)
        return EXIT_INTERNAL


def _run(parser: argparse.ArgumentParser, words: list[str]) -> int:
    if words and words[0] in OWN:
        code = import_module(f"sagbench.cli.{words[0]}").run(words[1:])
        assert isinstance(code, int)
        return code
    arguments = parser.parse_args(words)
    if arguments.version:
        from importlib.metadata import version
        print(f"sagbench {version('sagbench')}")
        return 0
    if arguments.verb == "sweep":
        with interrupts.held():
            from sagbench.cli import sweep
        return sweep.run(arguments)
    if arguments.verb == "report":
        from sagbench.cli import show
        return show.run(arguments)
    parser.print_help()
    return EXIT_USAGE


def complain(error: SagbenchError) -> int:
    """Show the error's sentence on standard error; returns its exit code."""
    from sagbench.report.safe import visible
    text = "\n".join(visible(line) for line in str(error).split("\n"))
    missing = [name for name in getattr(error, "near", ()) if name not in text]
    if missing:
        text += f" Nearest: {visible(', '.join(missing))}."
    print(f"sagbench: {text}", file=sys.stderr)
    return error.exit_code
