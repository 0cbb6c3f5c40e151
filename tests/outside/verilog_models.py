"""Runs the Verilog models of Debian's tkgate-data, unpacked by `make setup`, under Icarus Verilog.

The models are read where they lie.  They are written for a simulator of their own; what Icarus does not take is
rewritten in a copy in the test's folder: the form of the delay parameter; and an `inout` gets its level through a wire.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
import subprocess
from collections.abc import Mapping
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "build/outside/usr/share/tkgate/vlib"


@cache
def modules(file: str) -> dict[str, str]:
    """Module name -> its text, as Icarus takes it.  The drawing the file begins with (`main`) is left out."""
    path = FOLDER / file
    if not path.exists():
        raise FileNotFoundError(f"{path} is missing: run `make setup`")
    text = re.sub(r"#\(\.delay\((\d+)\)\)", r"#(parameter delay=\1)", path.read_text(encoding="latin-1"))
    return {m[1]: m[0] for m in re.finditer(r"^module (\w+).*?^endmodule", text, re.M | re.S) if m[1] != "main"}


def run(file: str, name: str, inputs: Mapping[str, int], outputs: list[str], count: int,
        folder: Path) -> dict[str, tuple[int, int, int]]:
    """Apply `count` vectors (bit k of each input's level belongs to vector k), one after another, with time to settle.

    Output -> vectors in which it is high, off, unknown.  Raises CalledProcessError if Icarus refuses the model.
    """
    names = [*inputs]
    ports = [*((n, f"x[{len(names) - 1 - k}]") for k, n in enumerate(names)),
             *((n, f"y[{len(outputs) - 1 - k}]") for k, n in enumerate(outputs))]
    (folder / "vectors").write_text("".join(
        "".join(str(inputs[n] >> k & 1) for n in names) + "\n" for k in range(count)))
    bench = f"""
`timescale 1ns/1ns
{modules(file)[name]}
module bench;
 reg [{len(names) - 1}:0] v [0:{count - 1}]; reg [{len(names) - 1}:0] now; integer k;
 wire [{len(names) - 1}:0] x = now; wire [{len(outputs) - 1}:0] y;
 {name} chip({", ".join(f".{port}({net})" for port, net in ports)});
 initial begin
  $readmemb("{folder}/vectors", v);
  for (k = 0; k < {count}; k = k + 1) begin now = v[k]; #1000 $display("%b", y); end
  $finish;
 end
endmodule
"""
    (folder / "bench.v").write_text(bench)
    for command in (["iverilog", "-g2005", "-s", "bench", "-o", "bench.vvp", "bench.v"], ["vvp", "-n", "bench.vvp"]):
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    lines = [line for line in done.stdout.split("\n") if re.fullmatch(r"[01xz]+", line)]
    if len(lines) != count:
        raise ValueError(f"{name}: {len(lines)} lines instead of {count}")
    found = {}
    for place, output in enumerate(outputs):
        column = "".join(line[place] for line in reversed(lines))
        found[output] = tuple(int("".join("1" if c == symbol else "0" for c in column), 2) for symbol in "1zx")
    return found
