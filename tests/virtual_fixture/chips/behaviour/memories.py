"""Small random-access memories.  Pinouts and tables: the makers' data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import OFF, Levels, Part, part


PNP = {"*": 0.12}                     # inputs of the Schottky memories: IIL 0.25 mA


class Words16(Part):
    """Sixteen words of four bits: written while ME/ and WE/ are low, read while ME/ is low and WE/ high."""

    pins = "A0 ME/ WE/ D1 Q1 D2 Q2 GND Q3 D3 Q4 D4 A3 A2 A1 VCC"
    outputs = "Q1 Q2 Q3 Q4"
    inverted = 1
    idle = OFF                        # an output's level while nothing is read

    def power_up(self) -> None:
        self.words = [self.rng.getrandbits(4) for _ in range(16)]

    def evaluate(self, v: Levels) -> Levels:
        address = sum(v[f"A{k}"] << k for k in range(4))
        entered = sum(v[f"D{k + 1}"] << k for k in range(4))
        if not v["ME/"] and not v["WE/"]:
            self.words[address] = entered
        return self.shown(v, entered, self.words[address])

    def shown(self, v: Levels, entered: int, stored: int) -> Levels:
        """Output levels; entered, stored: the word at the data inputs and the one addressed."""
        reads = not v["ME/"] and v["WE/"]
        return {f"Q{k + 1}": stored >> k & 1 ^ self.inverted if reads else self.idle for k in range(4)}


@part("189")
class WordsInverted(Words16):
    """Three-state outputs, inverted."""
    three_state, drive, families = "*", "data3", "LS F"


@part("S189")
class WordsInvertedSchottky(WordsInverted):
    """PNP inputs."""
    loads, families = PNP, "S"


@part("219")
class WordsTrue(Words16):
    """Three-state outputs."""
    three_state, drive, families, inverted = "*", "data3", "LS F", 0


@part("289")
class WordsInvertedOpen(Words16):
    """Open collectors, inverted."""
    open_collector, families, idle = Words16.outputs, "LS", 1


@part("S289")
class WordsInvertedOpenSchottky(WordsInvertedOpen):
    """PNP inputs."""
    loads, families = PNP, "S"


@part("319")
class WordsTrueOpen(Words16):
    """Open collectors."""
    open_collector, families, idle, inverted = Words16.outputs, "LS", 1, 0


@part("89")
class WordsThrough(WordsInvertedOpen):
    """Open collectors, inverted; while WE/ is low the outputs are the data inputs' complement."""
    families = "TTL"

    def shown(self, v: Levels, entered: int, stored: int) -> Levels:
        return super().shown(v, entered, stored) if v["WE/"] else {
            f"Q{k + 1}": 1 - (entered >> k & 1) for k in range(4)}


@part("201")
class Bits256(Part):
    """256 bits: three selects, all low; read inverted, off while it is written."""
    pins = "A0 A1 S1/ S2/ S3/ Q/ A4 GND A5 A6 A7 WE/ D A3 A2 VCC"
    outputs = three_state = "Q/"
    drive, loads, families = "data3", PNP, "S"

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(256)]

    def evaluate(self, v: Levels) -> Levels:
        address = sum(v[f"A{k}"] << k for k in range(8))
        selected = not (v["S1/"] or v["S2/"] or v["S3/"])
        if selected and not v["WE/"]:
            self.bits[address] = v["D"]
        return {"Q/": 1 - self.bits[address] if selected and v["WE/"] else OFF}
