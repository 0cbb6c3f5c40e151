"""From raw readings to a calibration: the fit, what it says of each component, and what it leaves unexplained.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from importlib import metadata
from math import hypot, sqrt

from sagbench.calibrate.converter import KNOT, Curve, bow_sigma
from sagbench.calibrate.fit import Fit, Observation, factors, fit
from sagbench.calibrate.parts import LEVEL, LOADS, Parts, line_path, parts_of
from sagbench.calibrate.session import Draw, Seen, Session
from sagbench.measure.calibration import Calibration, Component, Residual, StageRecord
from sagbench.measure.components import TYPICAL_BETWEEN, TYPICAL_CURVE
from sagbench.plan.fixture import M_LINE, Fixture, Spread
from sagbench.wire.numbers import Reference

CONTACTS = 0.05 / sqrt(3)  # ohm, of the external resistor's leads in the socket
RATIO = {Reference.V1V1: "v1v1", Reference.V2V56: "v2v56"}
FACTORS = {
    "external": "external resistor",
    "bow": "level drive as ruler of the converter",
    "calibration_reference whole.high": "reference resistor and its channel",
}
Value = Callable[[str], float]


def prepare(fixture: Fixture, session: Session) -> Parts:
    """All unknowns of a session: the fixture's, the converter's, and the user's resistor."""
    given = session.external
    parts = parts_of(fixture, (given.value, hypot(given.u, CONTACTS)) if given else None)
    parts.add("bow", 0.0, bow_sigma(fixture) if session.curve else 1e-9)
    nominal = fixture.raw["supply"]["nominal_v"]
    for entry in fixture.raw["adc"]["reference"]:
        if "volts" in entry:
            spread = Spread.of(entry["volts"], 1 / nominal)
            parts.add(entry["name"], spread.middle, 2 * fixture.standard(spread))  # the rail has a span of its own
    gain = fixture.raw["icc_gain_ohm"]
    roles = ("shunt", "sense_gain_input", "sense_gain_output")
    parts.add("icc_gain", gain, gain * sqrt(sum(fixture.raw["resistor"][r]["tolerance"] ** 2 for r in roles)))
    for supplies in sorted({draw.supplies for draw in session.draws}):
        parts.add(zero_path(supplies), 0.05, 0.05)
    return parts


def zero_path(supplies: tuple[int, ...]) -> str:
    """Name of the ICC amplifier's level, as a fraction of AVcc, with these switches on and nothing drawn."""
    return f"icc_zero[{','.join(map(str, supplies))}]"


def observations(fixture: Fixture, session: Session) -> list[Observation]:
    """What the fit is to explain."""
    converter = Converter(fixture, session.curve)
    return [converter.level(seen) for seen in session.seen] + [converter.current(draw) for draw in session.draws]


class Converter:
    """Codes as they would be read, and how sure they are."""

    def __init__(self, fixture: Fixture, curve: Curve | None) -> None:
        adc = fixture.raw["adc"]
        self.curve = curve
        self.full = fixture.full_scale
        self.own = curve.u if curve else fixture.standard(Spread(0.0, -adc["inl_lsb"], adc["inl_lsb"]))
        self.noise = sqrt(adc["noise_lsb"] ** 2 + 1 / 12)

    def true(self, code: float) -> float:
        """A code as read, the converter's own curve taken off."""
        return code - (self.curve.at(code) if self.curve else 0.0)

    def u(self, repeats: int) -> float:
        """Standard uncertainty of a mean code."""
        return hypot(self.own, self.noise / sqrt(repeats))

    def code(self, share: float, value: Value) -> float:
        """What is read of a level that is this share of the reference."""
        return share * self.full - value("offset") + value("bow") * 4 * share * (1 - share)

    def level(self, seen: Seen) -> Observation:
        """A reading of node K."""
        setup, ratio = seen.setup, RATIO.get(seen.reference)
        u = self.u(seen.repeats)
        if setup.selector == LEVEL:  # the level drive's own reading comes in
            setup = replace(setup, source=self.true(setup.source) / self.full)
            u = hypot(u, self.own)

        def predict(value: Value) -> float:
            share = setup.level(value)
            return self.code(share / value(ratio) if ratio else share, value)

        paths = (*setup.paths(), "offset", "bow", *((ratio,) if ratio else ()))
        return Observation(describe(seen), self.true(seen.code), u, paths, predict)

    def current(self, draw: Draw) -> Observation:
        """A reading of the ICC amplifier. Levels at the pins are taken as read: they are some thousand times finer."""
        zero = zero_path(draw.supplies)
        paths = ["offset", "bow", "icc_gain", zero]
        paths += [line_path(position, M_LINE, False) for position in draw.medium]
        if draw.through:
            paths.append("external")

        def share(code: float, value: Value) -> float:
            return (self.true(code) + value("offset")) / self.full

        def predict(value: Value) -> float:
            amount = sum(share(v, value) / value(line_path(p, M_LINE, False)) for p, v in draw.medium.items())
            if draw.through:
                high, low = draw.through
                amount += (self.true(high) - self.true(low)) / self.full / value("external")
            return self.code(value(zero) + value("icc_gain") * amount, value)

        label = f"supply current, {'+'.join(map(str, draw.supplies))} on"
        return Observation(label, self.true(draw.code), self.u(draw.repeats), tuple(paths), predict)


def describe(seen: Seen) -> str:
    """For people: which reading this is."""
    lines = ", ".join(
        f"{'M' if line == M_LINE else 'S'}{p} {'high' if high else 'low'}" for p, line, high in seen.setup.lines
    )
    load = {LEVEL: "level drive", **{k: v.replace("_", " ") for k, v in LOADS.items()}}.get(seen.setup.selector, "")
    across = f", resistor {seen.setup.across[0]}-{seen.setup.across[1]}" if seen.setup.across else ""
    return f"position {seen.setup.position}: {lines}{across}{', ' + load if load else ''}"


def evaluate(fixture: Fixture, session: Session, made: str) -> Calibration:
    """The calibration that a session's readings give. ValueError if nothing fits."""
    parts = prepare(fixture, session)
    seen = observations(fixture, session)
    found = fit(parts, seen)
    components = _components(fixture, found, bool(session.draws))
    curve = session.curve
    return Calibration(
        session.serial,
        session.wiring_id,
        session.firmware,
        made,
        _version(),
        _stages(session, found, seen),
        components,
        curve.knots if curve else (),
        KNOT,
        _left(curve, found) if curve else 0.0,
        _residuals(session, found, seen),
    )


def _left(curve: Curve, found: Fit) -> float:
    """Non-linearity that is left: single codes and knots, and the level drive's own bow, over all codes on average."""
    return hypot(curve.u, found.u("bow") * MEAN_BOW)


MEAN_BOW = sqrt(8 / 15)  # root mean square of 4 x (1 - x)


def _version() -> str:
    try:
        return metadata.version("sagbench")
    except metadata.PackageNotFoundError:
        return "unknown"


# ------------------------------------------------------------------ components
def _components(fixture: Fixture, found: Fit, with_gain: bool) -> dict[str, Component]:
    """Every component of the measurement model that the fit knows something about."""
    parts, x = found.parts, found.x
    names = [
        f"{role}[{p}].{side}"
        for p in fixture.present
        for role in ("medium_drive", "strong_drive")
        for side in ("high", "low")
    ]
    for selector, role in LOADS.items():
        for side in ("high", "low"):
            _through(parts, f"{role} whole.{side}", f"selector[{selector}]", f"{role}.{side}", x)
    _through(parts, "level_drive whole", f"selector[{LEVEL}]", "level_drive", x)
    loads = {f"{role}.{side}": f"{role} whole.{side}" for role in LOADS.values() for side in ("high", "low")}
    loads["level_drive.path"] = "level_drive whole"
    names += [f"channel[{p}]" for p in fixture.present]
    paths = {"offset": "offset", **loads, **{n: n for n in names}, "channel_hump": "hump",
             "channel_shape": "shape", "selector_shape": "selector shape"}
    if with_gain:
        paths["icc_gain"] = "icc_gain"
    sources = {path: words for path, words in FACTORS.items() if path in parts.paths}
    outputs = [path for path in paths.values() if path not in sources]
    shares = factors(found, sources, outputs, lambda path: f"calibration of {path.replace(' whole', '')}")
    return {name: Component(found.value(path), dict(shares[path])) for name, path in paths.items()}


def _through(parts: Parts, name: str, channel: str, rest: str, x: list[float]) -> None:
    """A path of a channel at a typical level and what follows, straightened at the estimate."""
    ohm, hump, shape = (parts.value(path, x) for path in (channel, "hump", "selector shape"))
    scale = 1 + hump * TYPICAL_CURVE + shape * TYPICAL_BETWEEN
    shares: dict[int, float] = {}
    for path, slope in ((channel, scale), ("hump", ohm * TYPICAL_CURVE), ("selector shape", ohm * TYPICAL_BETWEEN), (rest, 1.0)):
        if path:
            for i, share in parts.paths[path][1].items():
                shares[i] = shares.get(i, 0.0) + slope * share
    at_x = ohm * scale + (parts.value(rest, x) if rest else 0.0)
    parts.paths[name] = (at_x - sum(share * x[i] for i, share in shares.items()), shares)


# ------------------------------------------------------------------ what is left over
def _stages(session: Session, found: Fit, seen: list[Observation]) -> tuple[StageRecord, ...]:
    stages = [*[s.stage for s in session.seen], *[d.stage for d in session.draws]]
    out = []
    for name in ("self", "external"):
        own = [(abs(r), o) for r, o, stage in zip(found.residuals, seen, stages, strict=True) if stage == name]
        if not own:
            continue
        worst = max(own, key=lambda pair: pair[0])
        done = max(when for key, when in session.done.items() if (key == "self") == (name == "self"))
        out.append(
            StageRecord(
                name,
                done,
                _what(session, name),
                len(own),
                sqrt(sum(r * r for r, _ in own) / len(own)),
                f"{worst[0]:.1f} at {worst[1].label}",
            )
        )
    return tuple(out)


def board_says(fixture: Fixture, session: Session) -> tuple[float, float]:
    """The external resistor by the board's own reference, whatever the user said: ohms and standard uncertainty."""
    assert session.external
    found = fit(
        prepare(fixture, session).widen({"external": UNKNOWN / session.external.u}), observations(fixture, session)
    )
    return found.value("external"), found.u("external")


UNKNOWN = 100.0  # ohm


def _what(session: Session, stage: str) -> str:
    if stage == "self":
        return "reference resistor of the board, converter's curve by the level drive"
    assert session.external
    pairs = sum("-" in key for key in session.done)
    return f"{session.external.value:g} ohm within {session.external.off:g} ohm at {pairs} pairs of positions"


def _residuals(session: Session, found: Fit, seen: list[Observation]) -> tuple[Residual, ...]:
    stages = [*[s.stage for s in session.seen], *[d.stage for d in session.draws]]
    return tuple(
        Residual(stage, o.label, round(o.read, 3), round(r * o.u, 3), round(o.u, 3))
        for stage, o, r in zip(stages, seen, found.residuals, strict=True)
    )
