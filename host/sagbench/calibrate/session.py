"""What a calibration has read so far: raw readings with the setups they were taken in, kept so that it can be resumed.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sagbench.calibrate.converter import Curve
from sagbench.calibrate.setup import Setup
from sagbench.wire.numbers import Reference


WITHIN = 0.53


@dataclass(frozen=True)
class Given:
    """A value the user vouches for: how far off it may be either way (ohms or volts)."""

    value: float
    off: float

    @property
    def u(self) -> float:
        """Standard uncertainty, such that U at k = 2 holds 95 % together with what else a figure hangs on.

        All within `off` is as likely (JCGM 100:2008, 4.3.7), whose standard deviation is 0.58 of it; at k = 2 that would hold
        98.5 % of levels, for a rectangle ends. Folded with a normal remainder of 0.2 to 0.4 of `off`, as levels have it, 95.45 %
        take 0.51 to 0.55.
        """
        return WITHIN * self.off


@dataclass(frozen=True)
class Seen:
    """One reading of node K: mean code as read, against which reference, of how many conversions."""

    stage: str
    setup: Setup
    reference: Reference
    code: float
    repeats: int


@dataclass(frozen=True)
class Draw:
    """One reading of the ICC amplifier against AVcc, and what was drawn from the supply switches meanwhile.

    supplies: positions that were on; medium: supply position -> its level while its M line pulled low;
    through: levels at both ends of the external resistor, or None.  Levels are codes as read, against AVcc.
    """

    stage: str
    supplies: tuple[int, ...]
    code: float
    repeats: int
    medium: Mapping[int, float] = field(default_factory=dict)
    through: tuple[float, float] | None = None


@dataclass
class Session:
    """Raw data of one calibration of one fixture."""

    serial: int
    wiring_id: int
    firmware: str
    begun: str
    curve: Curve | None = None
    seen: list[Seen] = field(default_factory=list)
    draws: list[Draw] = field(default_factory=list)
    done: dict[str, str] = field(default_factory=dict)  # "self", "1-24" ... -> when, ISO 8601
    external: Given | None = None

    def pair_done(self, pair: tuple[int, int]) -> bool:
        """True if the external resistor has been measured there."""
        return name_of(pair) in self.done

    def forget_external(self) -> None:
        """Drop all that was read with the external resistor."""
        self.seen = [s for s in self.seen if s.stage != "external"]
        self.draws = [d for d in self.draws if d.stage != "external"]
        self.done = {k: v for k, v in self.done.items() if "-" not in k}
        self.external = None


def name_of(pair: tuple[int, int]) -> str:
    """Two positions as one word."""
    return f"{pair[0]}-{pair[1]}"


# ------------------------------------------------------------------ as plain data
def to_plain(session: Session) -> dict[str, Any]:
    """For JSON."""
    return {
        "serial": session.serial,
        "wiring_id": session.wiring_id,
        "firmware": session.firmware,
        "begun": session.begun,
        "curve": None if session.curve is None else {"knots": list(session.curve.knots), "u": session.curve.u},
        "seen": [[s.stage, _setup_out(s.setup), s.reference.name, s.code, s.repeats] for s in session.seen],
        "draws": [
            [
                d.stage,
                list(d.supplies),
                d.code,
                d.repeats,
                {str(k): v for k, v in d.medium.items()},
                None if d.through is None else list(d.through),
            ]
            for d in session.draws
        ],
        "done": session.done,
        "external": _given_out(session.external),
    }


def from_plain(raw: Mapping[str, Any]) -> Session:
    """Raises KeyError, TypeError, ValueError or IndexError if it is not what `to_plain` gives."""
    curve = raw["curve"]
    return Session(
        int(raw["serial"]),
        int(raw["wiring_id"]),
        str(raw["firmware"]),
        str(raw["begun"]),
        None if curve is None else Curve(tuple(map(float, curve["knots"])), float(curve["u"])),
        [Seen(str(a), _setup_in(b), Reference[c], float(d), int(e)) for a, b, c, d, e in raw["seen"]],
        [
            Draw(
                str(a),
                tuple(map(int, b)),
                float(c),
                int(d),
                {int(k): float(v) for k, v in e.items()},
                None if f is None else (float(f[0]), float(f[1])),
            )
            for a, b, c, d, e, f in raw["draws"]
        ],
        {str(k): str(v) for k, v in raw["done"].items()},
        _given_in(raw["external"]),
    )


def _given_out(given: Given | None) -> list[float] | None:
    return None if given is None else [given.value, given.off]


def _given_in(raw: Any) -> Given | None:
    return None if raw is None else Given(float(raw[0]), float(raw[1]))


def _setup_out(setup: Setup) -> list[Any]:
    return [
        [list(line) for line in setup.lines],
        setup.position,
        setup.selector,
        setup.up,
        None if setup.across is None else list(setup.across),
        setup.source,
    ]


def _setup_in(raw: Any) -> Setup:
    lines, position, selector, up, across, source = raw
    return Setup(
        tuple((int(p), int(line), bool(high)) for p, line, high in lines),
        int(position),
        int(selector),
        bool(up),
        None if across is None else (int(across[0]), int(across[1])),
        float(source),
    )
