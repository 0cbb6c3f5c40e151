"""The virtual fixture in this process: controller, network and chip, run as far as a test wants.

    with Bench(chip="tests/virtual_fixture/chips/demo/sound_7400.toml", seed=7) as bench:
        bench.write(frame)
        bench.run(0.1)                   # seconds of simulated time
        answer = bench.read()
        assert not bench.violations

`truth` is what the host must never see.  For a host of its own in another process: `bench.open_port()`, `bench.serve(...)`.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
from collections.abc import Callable, Sequence
from enum import IntEnum
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any

from hardware.wiring import PATH

from . import clib
from .agenda import Agenda
from .clib import ChipOps, Drive, Figures, FixtureError
from .defects import DefectError, contacts
from .layout import Specimen
from .looking import SEEN, Supply, Truth, Violation
from .plain_chip import PlainChip
from .specimen import build, pin_number
from .specimen import wiring as wiring_of

__all__ = ["NODE_NAMES", "Bench", "Pace", "PlainChip", "Truth", "Violation"]

NODE_K, NODE_VBUS, NODE_V5, NODE_VREF = 24, 25, 26, 27
NODE_NAMES = {"K": NODE_K, "VBUS": NODE_VBUS, "V5": NODE_V5, "VREF": NODE_VREF}


class Pace(IntEnum):
    """How simulated time and the wall clock go together."""

    BUSY = 0   # a sleeping device in real time, a working one as fast as it goes
    REAL = 1   # never faster than real time
    FREE = 2   # no waiting


def _chip_ops() -> ChipOps:
    """The chip functions of the very library that made the chip."""
    from .chips import native
    lib = native.library()
    return ChipOps(*(ctypes.cast(getattr(lib, f"chip_{name}"), ctypes.c_void_p).value
                     for name, _ in ChipOps._fields_))


class Bench:
    """One fixture with one chip.

    chip: path or dictionary of a chip file, a PlainChip, or None for an empty socket.
    variant: "avr" the image in the simulator, "pc" the same core built for this machine,
    "none" the network alone (drive it with `port`, `shift`, `convert`).
    defects: what is broken about the fixture, texts NAME=VALUE as in defects.py.
    spread: how specimens are spread, "normal" or "even"; None for what the wiring file says.
    wiring: file of the build; the image is the same for all.
    """

    def __init__(self, chip: Any = None, seed: int = 1, variant: str = "avr", *, image: Path | str | None = None,
                 usb_v: float | None = None, nominal: bool = False, pace: Pace = Pace.FREE,
                 adjust: Callable[[Specimen], None] | None = None, defects: Sequence[str] = (), spread: str | None = None,
                 wiring: Path = PATH) -> None:
        self._lib = clib.library()
        self._build = partial(build, seed, usb_v=usb_v, nominal=nominal, spread=spread,
                              fixture=wiring_of(wiring))
        self.defects = list(defects)
        self.specimen, self.drawn = self._build(defects=self.defects)
        if adjust:
            adjust(self.specimen)
        self.seed = seed
        default = {"avr": clib.IMAGE, "pc": clib.NATIVE, "none": None}[variant]
        path = Path(image) if image is not None else default
        if path is not None and not path.exists():
            target = "pc" if variant == "pc" else "elf"
            raise FixtureError(f"{path} is not there; build it with `make -C firmware {target}`")
        error = ctypes.create_string_buffer(300)
        self._handle = self._lib.vf_open(ctypes.byref(self.specimen), int(variant == "pc"),
                                        str(path).encode() if path else None, error, len(error))
        if not self._handle:
            raise FixtureError(error.value.decode())
        self._lib.vf_pace(self._bench, int(pace))
        self._buffer = ctypes.create_string_buffer(65536)
        self._agenda = Agenda()
        self._power_ups = 0
        self.usb_v = float(self.specimen.usb_v)
        self.chip_source: Any = None
        self._chip: Any = None
        self._ops: Any = None
        self.insert(chip)

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        if self._handle:
            SEEN.extend(self.violations)
            self._lib.vf_close(self._handle)
            self._handle = None

    @property
    def _bench(self) -> Any:
        """The C side's bench.  Raises FixtureError once it is closed."""
        if not self._handle:
            raise FixtureError(f"virtual fixture {self.seed} is closed: look at it before close() or the end of its `with` block")
        return self._handle

    # ---- chip and surroundings

    def load(self, chip: Any) -> Any:
        """A chip for this bench from a chip file or its dictionary; a chip is left as it is.  Raises what chips.load does."""
        if chip is None or isinstance(chip, PlainChip) or hasattr(chip, "pointer"):
            return chip
        from . import chips
        return chips.load(chip, self.seed)

    def insert(self, chip: Any, source: Any = None) -> None:
        """Put a chip in the socket, or None to empty it.  source: file or dictionary that it was loaded from."""
        self.chip_source = chip if source is None and isinstance(chip, str | Path | dict) else source
        chip = self.load(chip)
        if chip is None:
            self._ops = None
        elif isinstance(chip, PlainChip):
            self._ops = ctypes.c_void_p(chip.ops)
        else:
            self._ops = _chip_ops()
        ops = None if self._ops is None else self._ops if isinstance(chip, PlainChip) else ctypes.byref(self._ops)
        self._lib.vf_chip(self._bench, ops, None if chip is None else chip.pointer)
        self._chip = chip

    def resistors(self, *texts: str) -> None:
        """Resistors in the socket instead of a chip, `A,B=OHMS` each (positions A and B)."""
        self.insert(self.load_resistors(*texts))

    def load_resistors(self, *texts: str) -> PlainChip:
        """The same, not yet in the socket."""
        chip = PlainChip()
        for a, b, ohm in contacts(texts):
            chip.resistor(a, b, ohm)
        return chip

    def break_(self, *defects: str) -> None:
        """These further defects of the fixture (defects.py), from this moment on; a name given before is replaced."""
        self._become(self._with(defects))

    def check(self, *defects: str) -> None:
        """Raise DefectError if these cannot be made."""
        self._build(defects=self._with(defects))

    def _with(self, defects: Sequence[str]) -> list[str]:
        names = {text.partition("=")[0].strip() for text in defects}
        return [text for text in self.defects if text.partition("=")[0].strip() not in names] + list(defects)

    def mend(self, *names: str) -> None:
        """Undo the defects of these names, all if none is given."""
        have = {text.partition("=")[0].strip() for text in self.defects}
        for name in set(names) - have:
            raise DefectError(f"{name} is not broken" + (f"; {', '.join(sorted(have))} is" if have else ""))
        self._become([text for text in self.defects if names and text.partition("=")[0].strip() not in names])

    def _become(self, defects: list[str]) -> None:
        specimen, drawn = self._build(defects=defects)
        self.defects, self.specimen, self.drawn = defects, specimen, drawn
        self._lib.vf_specimen(self._bench, ctypes.byref(specimen))

    def usb(self, volts: float) -> None:
        """Open-circuit voltage of the USB supply."""
        self.usb_v = volts
        self._lib.vf_usb(self._bench, volts)

    def dip(self, volts: float, seconds: float) -> None:
        """The USB supply falls to `volts` and recovers after so many seconds."""
        before = self.usb_v
        self.usb(volts)
        self.at(seconds, lambda: self.usb(before))

    def at(self, delay_s: float, action: Callable[[], Any], powered: bool = False) -> None:
        """Do something so many simulated seconds from now, or after the chip is powered next."""
        if powered:
            if not self._agenda.waits_for_power:
                self._power_ups = self._lib.vf_power_ups(self._bench)
            self._agenda.when_powered(delay_s, action)
        else:
            self._agenda.at(self.now_s + delay_s, action)

    def button(self, pressed: bool) -> None:
        self._lib.vf_button(self._bench, int(pressed))

    def freeze(self, seconds: float) -> None:
        """The controller's clock stands still; everything around it goes on."""
        self._lib.vf_freeze(self._bench, seconds)

    def spin(self) -> None:
        """The program hangs in an empty loop with interrupts off (the watchdog's reset is then expected)."""
        self._lib.vf_spin(self._bench)

    def reset(self) -> None:
        """The reset button."""
        self._lib.vf_reset(self._bench)

    def disable_trip(self, off: bool = True) -> None:
        """Take the over-current comparator out (to see what the firmware does alone)."""
        self._lib.vf_disable_trip(self._bench, int(off))

    # ---- running

    def run(self, seconds: float) -> None:
        """Let simulated time pass."""
        self._pass(self.now_s + seconds)

    def _pass(self, until_s: float, wall_s: float = 0.0) -> None:
        """Run to a moment, not longer than wall_s by the wall clock (0: no limit), doing what is due on the way."""
        if not self._agenda:
            self._lib.vf_run(self._bench, until_s, wall_s)
            return
        end = monotonic() + wall_s if wall_s else float("inf")
        while True:
            wall_left = max(1e-6, end - monotonic()) if wall_s else 0.0
            self._some(lambda: self._lib.vf_run(self._bench, min(until_s, self._agenda.next_s), wall_left))
            if self.now_s >= until_s or self.trouble or monotonic() >= end:
                return

    def _some(self, run: Callable[[], Any]) -> Any:
        """Run a stretch that ends when the chip is powered, if that is waited for; then do what is due."""
        waits = self._agenda.waits_for_power
        self._lib.vf_until_powered(self._bench, int(waits))
        result = run()
        if waits and self._lib.vf_power_ups(self._bench) != self._power_ups:
            self._agenda.powered(self.now_s)
        self._agenda.happen(self.now_s)
        return result

    def run_until(self, condition: Callable[[], bool], limit_s: float, step_s: float = 1e-3) -> bool:
        """Run in steps until the condition holds; False if it does not within limit_s of simulated time."""
        end = self.now_s + limit_s
        while not condition():
            if self.now_s >= end or self.trouble:
                return False
            self.run(step_s)
        return True

    def serve(self, wall_s: float) -> None:
        """Run for so long by the wall clock, at the bench's pace."""
        self._pass(1e12, wall_s)

    def open_port(self) -> str:
        """Give the serial line to a pseudo-terminal; returns its path."""
        path = ctypes.create_string_buffer(100)
        wrong = self._lib.vf_pty(self._bench, path, len(path))
        if wrong:
            raise FixtureError(f"no pseudo-terminal to be had (errno {-wrong}); free some or mount devpts")
        return path.value.decode()

    def write(self, data: bytes) -> None:
        """Bytes from the host."""
        self._lib.vf_write(self._bench, data, len(data))

    def read(self, most: int = 65536) -> bytes:
        """Bytes the device has sent."""
        count = self._lib.vf_read(self._bench, self._buffer, min(most, len(self._buffer)))
        return ctypes.string_at(self._buffer, count)

    def listen(self, patience_s: float, latency_s: float = 0.0, most: int = 65536) -> bytes:
        """Run until the device sends something, for patience_s at most, and latency_s more; what it has sent."""
        if not self._agenda:
            count = self._lib.vf_listen(self._bench, patience_s, latency_s, self._buffer, min(most, len(self._buffer)))
            return ctypes.string_at(self._buffer, count)
        end, data = self.now_s + patience_s, b""
        while not data and self.now_s < end and not self.trouble:
            left = min(end, self._agenda.next_s) - self.now_s
            count = self._some(lambda: self._lib.vf_listen(self._bench, left, 0.0, self._buffer, len(self._buffer)))  # noqa: B023
            data = ctypes.string_at(self._buffer, count)
        if data and latency_s > 0:
            self._pass(self.now_s + latency_s)
            data += self.read()
        return data

    # ---- the controller's side, when there is no controller

    def port(self, letter: str, ddr: int, out: int) -> None:
        """Write both registers of a port."""
        self._lib.vf_port(self._bench, "ABCDEFGHJKL".index(letter), ddr, out)

    def pins(self, letter: str) -> int:
        """Read a port's PIN register."""
        return int(self._lib.vf_pins(self._bench, "ABCDEFGHJKL".index(letter)))

    def shift(self, byte: int) -> int:
        return int(self._lib.vf_shift(self._bench, byte))

    def duty(self, share: float) -> None:
        """Of the level drive's PWM, 0..1."""
        self._lib.vf_duty(self._bench, share)

    def convert(self, channel: int, reference: int = 1, acquire_s: float = 12e-6) -> int:
        """One conversion; reference by REFS code: 1 avcc, 2 1.1 V, 3 2.56 V."""
        return int(self._lib.vf_convert(self._bench, channel, reference, acquire_s))

    # ---- looking

    def node(self, name: str | int, settled: bool = True) -> float:
        """Volts of position 1..24 or "K", "VBUS", "V5", "VREF"."""
        number = NODE_NAMES[name] if isinstance(name, str) else name - 1
        return float(self._lib.vf_node(self._bench, number, int(settled)))

    def tau(self, name: str | int) -> float:
        """Settling time constant of a node, seconds."""
        return float(self._lib.vf_tau(self._bench, NODE_NAMES[name] if isinstance(name, str) else name - 1))

    def pin_v(self, port: str) -> float:
        return float(self._lib.vf_pin_v(self._bench, pin_number(port)))

    def pin_a(self, port: str) -> float:
        """Amperes out of a port pin."""
        return float(self._lib.vf_pin_a(self._bench, pin_number(port)))

    @property
    def drive(self) -> Drive:
        """Lines, switches and selectors as the network sees them now."""
        drive = Drive()
        self._lib.vf_drive(self._bench, ctypes.byref(drive))
        return drive

    @property
    def powered(self) -> bool:
        """Some supply switch is on."""
        return any(self.drive.supply)

    @property
    def enabled(self) -> bool:
        """The dead-man holds OE_N low."""
        return bool(self._lib.vf_enabled(self._bench))

    @property
    def icc_v(self) -> float:
        return float(self._lib.vf_icc_v(self._bench))

    @property
    def figures(self) -> Figures:
        figures = Figures()
        self._lib.vf_figures(self._bench, ctypes.byref(figures))
        return figures

    @property
    def now_s(self) -> float:
        return float(self._lib.vf_now(self._bench))

    simulated_s = now_s

    @property
    def cycles(self) -> int:
        return int(self.figures.cycles)

    def peek(self, address: int) -> int:
        """A byte of the controller's data space; -1 on a board without one."""
        return int(self._lib.vf_peek(self._bench, address))

    @property
    def trouble(self) -> str:
        """Why the program stopped for good, or an empty text."""
        return str(self._lib.vf_trouble(self._bench).decode())

    @property
    def truth(self) -> Truth:
        """What the host must never see."""
        nodes = {f"Z{k}": self.node(k) for k in range(1, 25)} | {name: self.node(name) for name in NODE_NAMES}
        pins = {pin: float(self._lib.vf_pin_a(self._bench, pin)) for pin in range(88)}
        rails = clib.Rails()
        self._lib.vf_rails(self._bench, ctypes.byref(rails))
        mean = rails.volt_s / rails.powered_s if rails.powered_s else 0.0
        supply = Supply(rails.powered_s, rails.low_v, rails.high_v, mean, rails.vcc_v, rails.gnd_v)
        chip = self._chip.truth() if hasattr(self._chip, "truth") else {}
        return Truth(nodes, dict(self.drawn), self.icc_v, pins, supply, list(self.defects), chip)

    @property
    def violations(self) -> list[Violation]:
        found = []
        raw = clib.Violation()
        for n in range(self.figures.violations):
            if self._lib.vf_violation(self._bench, n, ctypes.byref(raw)):
                break
            found.append(Violation(raw.moment_s, raw.what.decode(), raw.where.decode(), raw.value))
        return found

    def forgive(self) -> list[Violation]:
        """Forget the violations so far, and return them: for a test that has planted them."""
        found = self.violations
        self._lib.vf_forgive(self._bench)
        return found
