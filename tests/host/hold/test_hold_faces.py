"""What is typed to a held chip, its picture, and the keys of the full screen; the chip is of paper.

SPDX-License-Identifier: MIT
"""

import asyncio
import os
import sys
from dataclasses import replace

import pytest
from textual.widgets import Static

from sagbench.cli import hold_faces
from sagbench.cli.hold_faces import Idle, screen
from sagbench.errors import UsageError
from sagbench.hold.held import Held
from sagbench.hold.hold import BUSY, Hold, NotPowered, View
from sagbench.hold.view import against, level, picture, told
from sagbench.hold.words import Order, pins_of, understood
from sagbench.parts import load_part
from sagbench.record import Quantity

LS00, LS181 = load_part("74LS00"), load_part("74181")


class PaperHold(Hold):
    """A held chip without a fixture."""

    def __init__(self, part):
        super().__init__(None, part)
        self.powered, self.clocked = True, []

    def power(self):
        if self.part is LS181:
            raise NotPowered("The chip is not powered: pins 1 and 2 are shorted.")
        self.powered = True

    def off(self):
        self.powered = False

    def look(self):
        self.clocked += self._pulses
        self._pulses.clear()
        volts = {pin.number: 0.2 * (pin.number % 3) * 8 for pin in self.part.pins}
        return View(self.powered, volts, dict(self.held), Quantity(0.0123, 0.0002, "A"), self.said)


@pytest.mark.parametrize(("line", "order"), [
    ("1A high", Order("set", (1,), Held.HIGH)),
    ("3 weak low", Order("set", (3,), Held.WEAK_LOW)),
    ("2a l", Order("set", (4,), Held.LOW)),
    ("all low", Order("set", (1, 2, 4, 5, 9, 10, 12, 13), Held.LOW)),
    ("clock 1B 5", Order("clock", (2,), count=5)),
    ("POWER", Order("power")),
    ("", None),
])  # fmt: skip
def test_words(line, order):
    assert understood(line, LS00) == order


@pytest.mark.parametrize(("line", "told"), [
    ("1A", "not understood"), ("5A high", "has no pin 5A"), ("clock", "clock CLK 5"), ("clock 1A x", "clock CLK 5"), ("clock *A", "one pin"),
])  # fmt: skip
def test_mistakes(line, told):
    with pytest.raises(UsageError, match=told):
        understood(line, LS00)


def test_names_with_a_star():
    assert pins_of("A*", LS181) == tuple(p.number for p in LS181.pins if p.name.startswith("A"))


@pytest.mark.parametrize("part", ["74181", "74LS00", "74273", "74LS245", "7489"])
def test_the_picture_fits_the_smallest_screen_and_says_all(part):
    hold = PaperHold(load_part(part))
    hold.held[1] = Held.WEAK_HIGH
    lines = picture(hold.part, hold.look(), chosen=1)
    assert len(lines) <= 17 and max(map(len, lines)) <= 80 and all(line.isascii() for line in lines)
    text = "\n".join(lines)
    assert "in: weak high" in text and "12.30 mA" in text and "POWER ON" in text and "ground" in text
    assert all(pin.name[:8] in text for pin in hold.part.pins if pin.name.isascii())


def test_every_pin_is_listed_with_its_role():
    hold = PaperHold(load_part("74LS245"))
    lines = picture(hold.part, hold.look())
    assert "\n".join(lines).count("bidirectional") == 16 and any("supply" in line for line in lines)
    hold.held[2] = Held.WEAK_HIGH
    words = [told(hold.part, pin.number, hold.look()) for pin in hold.part.pins]
    assert words[0] == "pin 1 (DIR): input, let go, 1.60 V, between" and words[1] == "pin 2 (A1): in and out, held weak high, 3.20 V, HIGH"
    assert words[9].startswith("pin 10 (GND): ground")


def test_a_chosen_pin_at_the_right_fits_too_and_keeps_its_role_while_it_is_held():
    hold = PaperHold(load_part("74LS112"))
    hold.held[14] = Held.WEAK_HIGH
    lines = picture(hold.part, hold.look(), chosen=14)
    assert max(map(len, lines)) <= 80 and any("14|<2CLR" in line and line.endswith("in: weak high") for line in lines)


def test_pins_that_do_not_go_where_they_are_held_are_told():
    """A 7400 asked for as a 7404: two of its outputs are held as inputs."""
    part = load_part("74LS04")
    held = dict.fromkeys((1, 3, 5), Held.LOW) | {9: Held.HIGH, 11: Held.WEAK_LOW}
    view = View(True, {1: 0.1, 3: 3.1, 5: 1.4, 9: 0.3, 11: 3.0}, held, None)
    assert against(part, view) == "Pins 3, 9 do not go where held: is that a 74LS04 in the socket?" and against(part, view) in picture(part, view)
    assert against(part, replace(view, volts={3: 3.1})) == "Pin 3 does not go where held: is that a 74LS04 in the socket?"
    assert against(part, replace(view, powered=False)) == "" == against(part, replace(view, volts={3: 0.1, 9: 4.0}))
    assert picture(part, replace(view, said="The power is gone."))[2] == "The power is gone."


@pytest.mark.parametrize(("part", "said"), [("74LS00", BUSY), ("74154", "")])
def test_what_is_said_stands_there_to_its_end(part, said):
    """All inputs of the widest chip held where they are not: the smallest screen has room for that, too."""
    part = load_part(part)
    pins = [pin.number for pin in part.pins if pin.number not in (12, 24)]
    view = View(True, dict.fromkeys(pins, 4.0), dict.fromkeys(pins, Held.LOW), None, said)
    lines = picture(part, view)
    assert (said or against(part, view)) in " ".join(lines) and len(said or against(part, view)) > 80
    assert max(map(len, lines)) <= 80 and len(lines) <= 18


def test_levels_are_words():
    """By VIL and VIH: 0.8 and 2.0 V of LS (TI data book), 1.35 and 3.15 V of HC at 4.5 V (JESD7)."""
    assert [level(LS00, v) for v in (0.1, 1.4, 2.4, None)] == ["LOW", "between", "HIGH", "?"]
    assert [level(load_part("74HC00"), v) for v in (1.0, 2.4, 4.0)] == ["LOW", "between", "HIGH"]


def test_what_may_not_be_held():
    hold = PaperHold(LS00)
    with pytest.raises(UsageError, match="is an output"):
        hold.set(3, Held.LOW)
    hold.set(3, Held.WEAK_LOW)
    with pytest.raises(UsageError, match="supply pin"):
        hold.set(14, Held.HIGH)
    with pytest.raises(UsageError, match="pins 1 to 14"):
        hold.set(15, Held.HIGH)
    with pytest.raises(UsageError, match="not driven"):
        hold.clock(1)
    hold.set(1, Held.LOW)
    with pytest.raises(UsageError, match="1 to 255"):
        hold.clock(1, 300)


def pressed(hold, *keys, idle_s=60.0, clock=None):
    """What stands on the full screen of 80 x 24 after these keys; the app."""
    async def go():
        app = screen(hold, Idle(idle_s, clock) if clock else Idle(idle_s))
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press(*keys)
            await pilot.pause()
            return app, {name: str(app.query_one(f"#{name}", Static).render()) for name in ("picture", "said", "keys")}
    return asyncio.run(go())


def test_keys_alone():
    hold = PaperHold(LS00)
    app, shown = pressed(hold, "h", "down", "H", "right", "L", "left", "down", "down", "l", "c", "C")
    assert (hold.held[1], hold.held[2], hold.held[13], hold.held[4]) == (Held.HIGH, Held.WEAK_HIGH, Held.WEAK_LOW, Held.LOW)
    assert hold.clocked == [(4, 1), (4, 10)] and app.chosen == 4
    assert "in: high" in shown["picture"] and "q ends" in shown["keys"]


def test_clock_pulses_are_told_for_they_may_change_nothing_that_shows():
    assert pressed(PaperHold(LS00), "l", "C")[1]["said"] == "10 clock pulses given at pin 1 (1A)."
    assert pressed(PaperHold(LS00), "l", "c")[1]["said"] == "1 clock pulse given at pin 1 (1A)."


def test_without_power_no_pin_seems_to_be_driven():
    hold = PaperHold(LS00)
    _, shown = pressed(hold, "p", "h", "c")
    assert "There is no power" in shown["said"] and set(hold.held.values()) == {Held.OFF} and not hold.clocked


def test_a_wrong_key_is_told_on_the_screen():
    _, shown = pressed(PaperHold(LS00), "down", "down", "h")
    assert "is an output" in shown["said"]


def test_a_chip_that_will_not_be_powered_is_told_and_the_screen_stays():
    app, shown = pressed(PaperHold(LS181), "p", "p")
    assert "shorted" in shown["said"] and app.trouble is None


def test_without_a_key_there_is_no_power_any_more():
    time = iter([0.0] + [1000.0] * 10**6)
    hold = PaperHold(LS00)
    _, shown = pressed(hold, idle_s=300, clock=lambda: next(time))
    assert not hold.powered and "no power" in shown["picture"]


def test_in_a_pipe_it_is_told_by_itself(monkeypatch, capsys):
    """Nothing is typed; the power goes at the third look, which is told once, with why."""
    end, typing = os.pipe()

    class Pulled(PaperHold):
        looks = 0

        def look(self):
            self.looks += 1
            if self.looks == 3:
                self.powered, self.said = False, "Its supply current is gone."
            if self.looks == 6:
                os.close(typing)
            return super().look()

    monkeypatch.setattr(hold_faces, "LOOK_EVERY_S", 0.01)
    with os.fdopen(end) as line:
        monkeypatch.setattr(sys, "stdin", line)
        hold_faces.by_lines(Pulled(LS00), 60.0)
    out = capsys.readouterr().out
    assert out.count("POWER ON") == 1 and out.count("no power") == 1 and out.count("Its supply current is gone.") == 1
