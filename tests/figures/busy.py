"""Prints simulated seconds a wall-clock second: a chip in the socket, the image converting without a pause.

SPDX-License-Identifier: MIT
"""
import time

from virtual_fixture.bench import Bench
from virtual_fixture.tests.wire import Client, step

from rig import ROOT

with Bench(chip=ROOT / "tests/demo/sound.toml", seed=1) as bench:
    client = Client(bench)
    client.hello()
    begun, before = time.perf_counter(), bench.simulated_s
    client.run_pass(*[step("scan", mask=0xFFFFFF, repeats=4)] * 40, step("end"))
    print((bench.simulated_s - before) / (time.perf_counter() - begun))
