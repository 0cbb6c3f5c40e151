"""March tests: on memories with faults, and on the pins of a memory.

Outside reference: A. J. van de Goor, "Using march tests to test SRAMs", IEEE Design & Test of Computers 10(1), 1993: which
classes of faults each march finds, and its length in operations a cell (from memory).

SPDX-License-Identifier: MIT
"""
import pytest

from sagbench.vectors import march

WORDS = 5
CLASSES = ("address", "both", "none", "stuck", "transition", "inversion", "idempotent", "state")
# March, operations a cell, classes of which every fault is found.
TABLE = [
    (march.MATS_PLUS, 5, {"address", "both", "none", "stuck"}),
    (march.MATS_PLUS_PLUS, 6, {"address", "both", "none", "stuck", "transition"}),
    (march.MARCH_X, 6, {"address", "both", "none", "stuck", "transition", "inversion"}),
    (march.MARCH_Y, 8, {"address", "both", "none", "stuck", "transition", "inversion"}),
    (march.MARCH_C_MINUS, 10, {"address", "both", "none", "stuck", "transition", "inversion", "idempotent", "state"}),
]


@pytest.mark.parametrize(("text", "length", "classes"), TABLE)
def test_a_march_finds_the_classes_it_is_published_to_find(text, length, classes):
    complete = {kind for kind in CLASSES
                if all(march.finds(text, fault, WORDS) for fault in march.all_faults(kind, WORDS))}
    assert complete == classes
    assert len(list(march.accesses(text, 16))) == 16 * length


def test_a_memory_without_fault_passes():
    sound = march.FaultyMemory(march.MemoryFault("transition", cell=-1), [0] * WORDS)
    assert not march._shows(march.MARCH_C_MINUS, sound)


def test_each_two_bits_of_a_word_differ_in_some_background():
    for width in (1, 2, 3, 4, 8):
        words = march.backgrounds(width)
        for a in range(width):
            for b in range(a):
                assert any((word >> a ^ word >> b) & 1 for word in words)
    assert march.backgrounds(4) == [0b0000, 0b0101, 0b0011]


@pytest.mark.parametrize("text", ["u(r0)", "{u(r0) d(w1)}", "{x(r0)}", "{u(r2)}", "{}"])
def test_what_is_no_march_is_refused_with_the_form_expected(text):
    with pytest.raises(ValueError, match="expected"):
        list(march.accesses(text, 4))


class Chip:
    """A little static memory: writes while write and select are low, drives while selected, enabled and not writing."""

    def __init__(self, pins):
        self.pins, self.now, self.cells = pins, {}, {}

    def apply(self, levels):
        control = {self.pins.write, self.pins.select, self.pins.enable} & set(levels)
        assert not self.now or not control or len(levels) == 1, "a control pin moves alone"
        assert not (self.writing() and set(levels) - control), "address or data move while the chip writes"
        self.now.update(levels)
        if self.writing():
            self.cells[self.address()] = tuple(self.now[name] for name in self.pins.data_in)
        if self.driving():
            assert all(self.now.get(n) is None for n in self.pins.data_out if n in self.pins.data_in), "two drive one pin"

    def writing(self):
        return self.now.get(self.pins.write) is False and self.now[self.pins.select] is False

    def driving(self):
        enabled = not self.pins.enable or not self.now[self.pins.enable]
        return not self.now[self.pins.select] and enabled and not self.writing()

    def address(self):
        return tuple(self.now[name] for name in self.pins.address)


PINS = {
    "data in and out, no enable": march.RamPins(("A0", "A1"), ("D1", "D2"), ("Q1", "Q2"), "WE", "CS"),
    "shared data, no enable": march.RamPins(("A0", "A1"), ("D1", "D2"), ("D1", "D2"), "WE", "CS"),
    "shared data with enable": march.RamPins(("A0", "A1"), ("D1", "D2"), ("D1", "D2"), "WE", "CS", "OE"),
}


@pytest.mark.parametrize("pins", PINS.values(), ids=list(PINS))
def test_a_march_on_the_pins_writes_and_reads_every_cell_and_never_fights_the_outputs(pins):
    chip, read = Chip(pins), []
    for levels, look in march.ram_steps(pins):
        chip.apply(levels)
        if look:
            assert chip.driving()
            read.append(chip.cells[chip.address()])
    wanted = [tuple(bool((background ^ -a.value) >> i & 1) for i in range(2))
              for background in march.backgrounds(2) for a in march.accesses(march.MARCH_C_MINUS, 4) if not a.write]
    assert read == wanted
