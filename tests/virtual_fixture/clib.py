"""The C library, loaded once, with the types of its functions.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
from functools import cache
from pathlib import Path
from typing import Any

from .layout import Specimen

ROOT = Path(__file__).resolve().parents[2]
LIBRARY = ROOT / "build" / "virtual" / "libvirtual.so"
IMAGE = ROOT / "build" / "firmware" / "sagbench.elf"
NATIVE = ROOT / "build" / "firmware" / "libsagbench_pc.so"

_I, _D, _P, _S, _N = ctypes.c_int, ctypes.c_double, ctypes.c_void_p, ctypes.c_char_p, ctypes.c_size_t


class FixtureError(RuntimeError):
    """The virtual fixture cannot start; the text says what, where and what to do."""


class Violation(ctypes.Structure):
    """Something that must never happen."""

    _fields_ = [("moment_s", _D), ("value", _D), ("what", ctypes.c_char * 56), ("where", ctypes.c_char * 24)]


class Figures(ctypes.Structure):
    """Counters and peaks; see struct vf_figures in api.c."""

    _fields_ = [("now_s", _D), ("longest_short_s", _D), ("peak_pin_a", _D), ("peak_group_a", _D * 5),
                ("peak_total_a", _D), ("alive_v", _D),
                *((name, ctypes.c_uint64) for name in (
                    "cycles", "solves", "iterations", "asked", "skipped", "oscillating", "unsolved", "conversions", "resets",
                    "bytes_in", "bytes_out")),
                ("stack_free", ctypes.c_int32), ("violations", ctypes.c_uint32)]


class Rails(ctypes.Structure):
    """What the chip gets at its supply pins; see struct rails in network.h."""

    _fields_ = [("supply", _I), ("ground", _I), *((name, _D) for name in (
        "vcc_v", "gnd_v", "low_v", "high_v", "since_s", "volt_s", "powered_s"))]


class Drive(ctypes.Structure):
    """What the network was last solved for; see struct drive in network.h."""

    _fields_ = [*((name, ctypes.c_uint8 * 25) for name in ("strong", "medium", "supply", "ground")),
                ("tied", ctypes.c_uint8 * 3), ("load", ctypes.c_uint8), ("ld", ctypes.c_uint8),
                ("lamp", ctypes.c_uint8), ("spare", ctypes.c_uint8 * 2), ("chip_serial", ctypes.c_uint32),
                ("usb_v", _D), ("level_v", _D)]


class ChipOps(ctypes.Structure):
    """Pointers to the functions of chip.h, as struct chip_ops has them."""

    _fields_ = [(name, _P) for name in ("currents_near", "settle", "overstress", "wait", "act", "state", "pattern")]


_SIGNATURES: dict[str, tuple[Any, list[Any]]] = {
    "vf_specimen_size": (_N, []),
    "vf_open": (_P, [ctypes.POINTER(Specimen), _I, _S, _S, _N]),
    "vf_close": (None, [_P]),
    "vf_run": (_D, [_P, _D, _D]),
    "vf_pty": (_I, [_P, _S, _N]),
    "vf_now": (_D, [_P]),
    "vf_pace": (None, [_P, _I]),
    "vf_write": (None, [_P, _S, _N]),
    "vf_listen": (_N, [_P, _D, _D, _S, _N]),
    "vf_read": (_N, [_P, _S, _N]),
    "vf_reset": (None, [_P]),
    "vf_spin": (None, [_P]),
    "vf_freeze": (None, [_P, _D]),
    "vf_specimen": (None, [_P, ctypes.POINTER(Specimen)]),
    "vf_usb": (None, [_P, _D]),
    "vf_until_powered": (None, [_P, _I]),
    "vf_power_ups": (ctypes.c_uint64, [_P]),
    "vf_button": (None, [_P, _I]),
    "vf_disable_trip": (None, [_P, _I]),
    "vf_chip": (_I, [_P, _P, _P]),
    "vf_port": (None, [_P, _I, _I, _I]),
    "vf_shift": (_I, [_P, _I]),
    "vf_pins": (_I, [_P, _I]),
    "vf_duty": (None, [_P, _D]),
    "vf_convert": (_I, [_P, _I, _I, _D]),
    "vf_node": (_D, [_P, _I, _I]),
    "vf_tau": (_D, [_P, _I]),
    "vf_pin_v": (_D, [_P, _I]),
    "vf_pin_a": (_D, [_P, _I]),
    "vf_icc_v": (_D, [_P]),
    "vf_enabled": (_I, [_P]),
    "vf_drive": (None, [_P, ctypes.POINTER(Drive)]),
    "vf_figures": (None, [_P, ctypes.POINTER(Figures)]),
    "vf_rails": (None, [_P, ctypes.POINTER(Rails)]),
    "vf_violation": (_I, [_P, ctypes.c_uint32, ctypes.POINTER(Violation)]),
    "vf_forgive": (None, [_P]),
    "vf_trouble": (_S, [_P]),
    "vf_peek": (_I, [_P, ctypes.c_uint32]),
    "plain_new": (_P, []),
    "plain_free": (None, [_P]),
    "plain_resistor": (_I, [_P, _I, _I, _D]),
    "plain_inverter": (_I, [_P, _I, _I, _I, _I, _D]),
    "plain_limit": (None, [_P, _D]),
}


@cache
def library() -> ctypes.CDLL:
    """libvirtual.so; FixtureError if it is missing or was built for another layout."""
    if not LIBRARY.exists():
        raise FixtureError(f"{LIBRARY} is not built; run `make -C tests/virtual_fixture`")
    lib = ctypes.CDLL(str(LIBRARY))
    for name, (result, arguments) in _SIGNATURES.items():
        function = getattr(lib, name)
        function.restype, function.argtypes = result, arguments
    if lib.vf_specimen_size() != ctypes.sizeof(Specimen):
        raise FixtureError(f"{LIBRARY} is older than specimen.h; run `make -C tests/virtual_fixture`")
    return lib
