"""Two positions that see each other: what joins them, a bridge of the board or something in the socket?

Each way to join them has levels of its own in four arrangements; the one that explains what is read best is told.
Nowhere does a line drive against another here but through the resistors of both.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass

from sagbench.plan.fixture import M_LINE, S_LINE
from sagbench.plan.recipe import Mark
from sagbench.plan.seat import mask
from sagbench.selftest.bench import Bench
from sagbench.selftest.findings import numbers
from sagbench.selftest.network import Branch, levels
from sagbench.selftest.positions import WEAK, Map, sees
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel

MANY = 4  # more pairs than that are a chip, not bridges
FITS = 0.03  # of the rail, worst of six readings, within nominal resistors' tolerances
AS_SAID = 0.15  # the user's resistor measures what was said, so closely
SMALL_OHM = 40.0  # below that a joint between positions is a bridge, above it a resistor in the socket
ALIKE = 0.02  # of the rail: levels of a joint that is the same seen from either end
OHMS = (0.5, 5, 15, 30, 60, 100, 150, 220, 330, 470, 680, 1000, 1500, 3300, 10000, 33000)


@dataclass(frozen=True)
class Joint:
    """What joins two positions: which kind of net at either (Z the position, M, S its lines), and ohms."""

    way: str
    ohm: float
    off: float


def tell(bench: Bench, seen: Map, resistor: float | None = None) -> tuple[int, int] | None:
    """Pairs that see each other: bridges are told, else what is in the socket goes into `report.not_empty`.

    resistor: ohms of one that the user has put in; where it is, is the answer.
    """
    pairs = [
        (p, q)
        for p in bench.positions
        for q in bench.positions
        if p < q and (sees(seen, p, q) or sees(seen, q, p)) and not {p, q} & bench.spoilt
    ]
    if not pairs:
        bench.report.fine(
            "bridges", "No position follows another: nothing is bridged, and the socket is empty.", "bridges"
        )
        return None
    if len(pairs) > MANY:
        bench.report.not_empty = (
            f"positions {numbers(p for pair in pairs for p in pair)} conduct among each other, as a chip's do; take "
            f"out what is "
            "in the socket and start again"
        )
        return None
    foreign, mine = [], None
    for pair in pairs:
        joint = _best(bench, *pair)
        bench.spoilt.update(pair)
        if resistor and joint and joint.way == "ZZ" and abs(joint.ohm / resistor - 1) < AS_SAID and not mine:
            mine = pair
        elif joint is None or (joint.way == "ZZ" and joint.ohm > SMALL_OHM):
            foreign.append((pair, joint))
        else:
            _told(bench, pair, joint)
    if foreign:
        words = [
            f"between positions {p} and {q} "
            f"{f'there are some {joint.ohm:.0f} ohm' if joint else 'there is something that is no resistor'}"
            for (p, q), joint in foreign
        ]
        bench.report.not_empty = "; ".join(words) + "; take out what is in the socket and start again"
    return mine


def _told(bench: Bench, pair: tuple[int, int], joint: Joint) -> None:
    names = bench.names
    p, q = pair
    if joint.way == "ZZ":
        bench.report.fault(
            "bridged positions",
            f"Positions {p} and {q} are joined, by some {joint.ohm:.0f} ohm: a bridge at the socket or at "
            f"{names.mux_channel(p)} and {names.mux_channel(q)}, if there is nothing in the socket.",
            "bridges",
            names.part("test_socket"),
            names.mux(names.package(p)),
            names.mux(names.package(q)),
        )
        return
    kinds = {"M": M_LINE, "S": S_LINE}
    pins = [names.line_pin(kinds[kind], at) for kind, at in zip(joint.way, pair, strict=True)]
    resistors = [names.resistor(kinds[kind], at) for kind, at in zip(joint.way, pair, strict=True)]
    bench.report.fault(
        "bridged lines",
        f"The lines at {pins[0]} and {pins[1]} (positions {p} and {q}) are bridged, there or at {resistors[0]} and "
        f"{resistors[1]}.",
        "bridges",
        *pins,
        *resistors,
    )


# ------------------------------------------------------------------ arrangements
def _best(bench: Bench, p: int, q: int) -> Joint | None:
    """The way to join them that explains what is read, with its ohms; None if none does."""
    weak = _read_weak(bench, p, q)
    ways: tuple[str, ...]
    if (
        abs(weak[0] - weak[1]) > ALIKE
    ):  # a strong line bridged to a medium one: no level may be put against another there
        ways, read = ("MS", "SM"), weak
    else:
        ways, read = ("ZZ", "MM", "SS"), [*weak, *_read_loaded(bench, p, q)]
    best = min(
        (Joint(way, ohm, _misfit(bench, way, ohm, read)) for way in ways for ohm in OHMS), key=lambda joint: joint.off
    )
    for step in (1.25, 1.1, 1.04, 1.015):
        near = [Joint(best.way, best.ohm * f, _misfit(bench, best.way, best.ohm * f, read)) for f in (1 / step, step)]
        best = min([best, *near], key=lambda joint: joint.off)
    return best if best.off < FITS else None


def _read_weak(bench: Bench, p: int, q: int) -> list[float]:
    """Levels by the weak load: of q with p raised through M, of p with q raised."""
    recipe = bench.recipe()
    for one, other in ((p, q), (q, p)):
        recipe.drive(mask([one]), 0, mask([one]))
        recipe.read_position(other, 4, label="weak", selector=WEAK, ld=LineLevel.LOW)
    return bench.run(recipe).all("weak")


def _read_loaded(bench: Bench, p: int, q: int) -> list[float]:
    """Levels of both ends with S of p high and M of q low, and the other way round."""
    recipe = bench.recipe()
    for one, other in ((p, q), (q, p)):
        recipe.drive(mask([other]), 0, 0)
        recipe.selector_open()
        marks = [Mark("position", at, 4, label="loaded") for at in (one, other)]
        recipe.add(steps.load(one, S_LINE, 0, 1, other, 4, 50), *marks)
    return bench.run(recipe).all("loaded")


def _misfit(bench: Bench, way: str, ohm: float, read: list[float]) -> float:
    return max(abs(a - b) for a, b in zip(_expected(bench, way, ohm)[: len(read)], read, strict=True))


def _expected(bench: Bench, way: str, ohm: float) -> list[float]:
    """What the two readings would give if p's net of that kind were joined to q's."""
    fixture = bench.fixture
    m, s = fixture.resistor("medium_drive").typ, fixture.resistor("strong_drive").typ
    pin, channel = fixture.driver.typ, sum(fixture.raw["mux"]["ron_ohm"][k] for k in ("min", "max")) / 2
    arm = fixture.resistor("weak_load").typ + pin + channel
    board: list[Branch] = [
        ("Zp", "Mp", m),
        ("Zp", "Sp", s),
        ("Zq", "Mq", m),
        ("Zq", "Sq", s),
        (f"{way[0]}p", f"{way[1]}q", ohm),
    ]
    out = []
    for raised, looked in (("Mp", "Zq"), ("Mq", "Zp")):
        found = levels([*board, ("high", raised, pin), (looked, "K", channel), ("K", "low", arm)])
        out.append(found["K"])
    for strong, low, ends in (("Sp", "Mq", ("Zp", "Zq")), ("Sq", "Mp", ("Zq", "Zp"))):
        found = levels([*board, ("high", strong, pin), ("low", low, pin)])
        out += [found[end] for end in ends]
    return out
