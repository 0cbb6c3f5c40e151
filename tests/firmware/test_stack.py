"""The most the stack can be, by the call graph of the image's machine code; what painting shows, and what the compiler says.

Referee of the reader: avr-gcc's own figures for each function (-fstack-usage), of the same source without optimization between
files. Referee of the whole: the paint that is left after what lies on the deepest way has been carried out.
"""
from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from virtual_fixture.bench import Bench, PlainChip

from .callgraph import POINTERS, RETURN_BYTES, Graph, NotUnderstood, _Reader, disassembled
from .host import Host, mask, step
from .line import Image
from .test_build import make_variable
from .world import BUILD, ROOT

pytestmark = pytest.mark.image
IMAGE = BUILD / "sagbench.elf"
STACK_MOST = 512           # half of what is left beside 4 KiB of static data would do; it is far less
AGREE_BYTES = 48           # the deepest call of all and the deepest interrupt need not have met
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=800)
AVCC = step("reference", reference="avcc")


def test_the_reader_agrees_with_the_compiler(tmp_path: Path) -> None:
    flags = [f for f in make_variable("FLAGS") if f not in ("-flto", "-I.")]
    sources = [ROOT / "firmware" / s for s in make_variable("SOURCES")]
    subprocess.run(["avr-gcc", "-mmcu=atmega2560", *flags, "-I", ROOT / "firmware", "-fstack-usage", "-Wl,--gc-sections", "-o", "plain.elf", *sources],
                   cwd=tmp_path, check=True)
    told = {m[1]: int(m[2]) for su in tmp_path.glob("*.su") for m in re.finditer(r":(\w+)\t(\d+)\tstatic", su.read_text())}
    functions = [f for f in disassembled(tmp_path / "plain.elf") if f.name in told]
    starts = {f.code[0].at: f.name for f in disassembled(tmp_path / "plain.elf")}
    for function in functions:
        _Reader(function, starts).read()
    different = {f.name: (f.most + RETURN_BYTES, told[f.name]) for f in functions if f.most + RETURN_BYTES != told[f.name]}
    assert len(functions) > 100 and different == {}


@pytest.fixture
def host() -> Iterator[Host]:
    """A host at the image, a chip in the socket."""
    chip = PlainChip().inverter(1, 2, 24, 7, 30.0).resistor(24, 7, 1000.0).resistor(1, 7, 100e3)
    with Bench(chip=chip, seed=11) as bench:
        yield Host(Image(bench))


def test_call_graph_and_paint_agree(host: Host) -> None:
    """What is painted never exceeds what the call graph bounds, and comes near it."""
    free = 5                                  # a position where nothing is
    driven = [step("verify", position=free), step("pin", position=free, lines=3, high=1)]
    scan = step("load_scan", mask=mask(2, free), high=mask(2, free), lines=3, load=5, repeats=4, settle_us=50)
    load = dict(lines=3, load=5, high=1, also=7, repeats=4, settle_us=50)
    host.run(POWER, AVCC, step("verify", position=1), step("scan", mask=0xFFFFFF, repeats=1), *driven, scan, *driven,
             step("load", position=free, **load), *driven, step("load", position=2, **load), scan, *[*driven, scan] * 30, step("power_off"))
    sizes = subprocess.run(["avr-size", "-A", str(IMAGE)], check=True, capture_output=True, text=True).stdout
    static = sum(int(m[1]) for m in re.finditer(r"^\.(?:data|bss|noinit)\s+(\d+)", sizes, re.M))
    painted = 8192 - static - host.state().stack_free
    worst, interrupt = Graph(IMAGE, POINTERS).worst()
    bound = worst.size + interrupt.size
    assert bound <= STACK_MOST
    assert bound - AGREE_BYTES <= painted <= bound


def test_a_call_that_nobody_has_named_is_not_overlooked() -> None:
    with pytest.raises(NotUnderstood, match="calls through a pointer, and nothing says whom"):
        Graph(IMAGE, POINTERS[1:])
    with pytest.raises(NotUnderstood, match="address of .* is taken, and nothing says who calls them"):
        Graph(IMAGE, ((".*", "on_hello.*"),))
    assert RETURN_BYTES == 3
