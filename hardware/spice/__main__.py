"""Show what the simulated fixture does, against what it must do.

    python -m hardware.spice                  every claim of the table
    python -m hardware.spice --quick          those that `make test` runs
    python -m hardware.spice dead-man trip    those whose name has one of these words
    python -m hardware.spice --write          every claim, and hardware/spice/RESULTS.md anew
    python -m hardware.spice --netlist        the circuit, for your own ngspice

Exit 1 if a claim is not held that the table does not call open, or held though it does; 2 if it could not be found out.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import argparse
import sys
import time

from hardware.spice import page
from hardware.spice.claims import ClaimError, Outcome, load_claims, run
from hardware.spice.netlist import netlist
from hardware.spice.simulate import SpiceError
from hardware.wiring import WiringError


def main(arguments: list[str]) -> int:
    """The exit code."""
    parser = argparse.ArgumentParser(prog="python -m hardware.spice", description=(__doc__ or "").split("\n\nSPDX")[0],
                                     formatter_class=argparse.RawDescriptionHelpFormatter, usage=argparse.SUPPRESS)
    parser.add_argument("words", nargs="*", metavar="WORD", help="only claims whose name has one of these")
    parser.add_argument("--quick", action="store_true", help="only what `make test` runs")
    parser.add_argument("--write", action="store_true", help="write the page of results (all claims)")
    parser.add_argument("--netlist", action="store_true", help="print the circuit of a typical specimen, and end")
    asked = parser.parse_args(arguments)
    try:
        if asked.netlist:
            print(netlist(), end="")
            return 0
        claims = [claim for claim in load_claims()
                  if asked.write or (claim.quick or not asked.quick) and (not asked.words or any(w in claim.name for w in asked.words))]
        if not claims:
            print(f"no claim has {' or '.join(asked.words)} in its name; hardware/spice/table has them", file=sys.stderr)
            return 2
        begun = time.perf_counter()
        outcomes: list[Outcome] = []
        for outcome in run(claims):
            outcomes.append(outcome)
            print(page.line(outcome), flush=True)
    except (ClaimError, SpiceError, WiringError) as wrong:
        print(wrong, file=sys.stderr)
        return 2
    held = sum(outcome.held for outcome in outcomes)
    unlike = [outcome for outcome in outcomes if not outcome.as_known]
    for outcome in unlike:
        print(f"{outcome.claim.name}: {'held, though the table calls it open; take `open` out' if outcome.held else 'not held'}", file=sys.stderr)
    print(f"{held} of {len(outcomes)} claims held, {time.perf_counter() - begun:.0f} s")
    if asked.write:
        page.PATH.write_text(page.markdown(outcomes))
    return int(bool(unlike))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
