"""Calibrations as files: kept whole, found again, and refused where they must not be used.

SPDX-License-Identifier: MIT
"""

import errno
import json
import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import hypot
from statistics import NormalDist

import platformdirs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.calibrate import place as place_of
from sagbench.calibrate import store
from sagbench.calibrate.converter import Curve
from sagbench.calibrate.meter import reference
from sagbench.calibrate.session import Draw, Given, Seen, Session, from_plain, to_plain
from sagbench.calibrate.setup import Setup
from sagbench.device import Info
from sagbench.errors import UsageError
from sagbench.measure.calibration import Calibration, Component, Residual, StageRecord, priors_of
from sagbench.measure.components import HUMP, SHAPE_SD, TYPICAL_CURVE, TYPICAL_LEVEL, Components, Priors, between, curve
from sagbench.measure.uncertain import standard, uncertain, value
from sagbench.plan.fixture import S_LINE, load_fixture
from sagbench.wire.numbers import Reference

NOW = datetime(2026, 3, 1, 12, 0, 0, tzinfo=UTC)
INFO = Info("port", 2, 0xABCD, "bench24", 7, "1.0", 1, 24)
SOUND = Calibration(
    7,
    0xABCD,
    "1.0",
    "2026-02-20T10:00:00+00:00",
    "0.1",
    (StageRecord("self", "2026-02-20T10:00:00+00:00", "board", 10, 0.8, "2.1 at position 3"),),
    {"strong_drive[6].high": Component(299.1, {"external resistor": 0.2, "calibration of strong_drive[6].high": 0.1})},
    (0.1, -0.2),
    32,
    0.09,
    (Residual("self", "position 3", 512.2, 0.1, 0.12),),
)


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    monkeypatch.setenv(place_of.VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_folder_is_the_platforms_own(monkeypatch):
    monkeypatch.delenv(place_of.VARIABLE)
    assert place_of.folder({}) == platformdirs.user_data_path("sagbench", appauthor=False)


def test_what_is_kept_comes_back_and_is_used(place):
    path = store.save(SOUND, SOUND.made)
    assert path.parent == place and path.name == "calibration-0000000007-20260220T100000Z.json"
    assert store.read(path) == SOUND
    found = store.find(INFO, NOW)
    assert found.calibration == SOUND and not found.unfit and not found.sentence
    raw = json.loads(path.read_text())
    assert raw["version"] == 1 and raw["made"] == SOUND.made and raw["residuals"][0]["residual"] == 0.1


def test_a_seal_is_of_what_it_says_not_of_its_layout_and_older_files_have_none(place):
    path = store.save(SOUND, SOUND.made)
    raw = json.loads(path.read_text())
    path.write_text(json.dumps(dict(reversed(raw.items()))))
    assert store.read(path) == SOUND
    del raw["seal"]
    path.write_text(json.dumps(raw))
    assert store.read(path) == SOUND


def test_the_newest_counts():
    store.save(SOUND, "2026-02-20T10:00:00+00:00")
    later = replace(SOUND, made="2026-02-21T10:00:00+00:00")
    store.save(later, later.made)
    store.save(replace(SOUND, serial=8), "2026-02-25T10:00:00+00:00")
    assert store.find(INFO, NOW).calibration == later


def test_none_is_no_trouble():
    assert store.find(INFO, NOW) == store.Found(None)
    nameless = store.find(replace(INFO, serial=None), NOW)
    assert nameless.calibration is None and "no serial number" in nameless.sentence and not nameless.unfit


@pytest.mark.parametrize(
    "change, said",
    [
        ({"made": "2025-06-01T00:00:00+00:00"}, "273 days old; 180 are allowed"),
        ({"wiring_id": 5}, "made with wiring 00000005"),
        ({"made": "2026-05-01T00:00:00+00:00"}, "yet to come"),
    ],
)
def test_one_that_must_not_be_used_is_said(change, said):
    store.save(replace(SOUND, **change), SOUND.made)
    found = store.find(INFO, NOW)
    assert found.unfit and said in found.sentence and "calibrate again" in found.sentence


def test_one_of_another_fixture_under_this_ones_name(place):
    path = store.save(replace(SOUND, serial=3), SOUND.made)
    path.rename(place / place_of.file_name(7, SOUND.made))
    found = store.find(INFO, NOW)
    assert found.unfit and "it is of fixture 3, not of fixture 7" in found.sentence


@pytest.mark.parametrize(
    "damage, said",
    [
        (lambda text: text[: len(text) // 2], "not JSON any more"),
        (lambda text: "[]", "is not a calibration"),
        (lambda text: text.replace('"version": 1', '"version": 9'), "of version 9"),
        (lambda text: text.replace("299.1", '"much"'), "is damaged"),
        (lambda text: text.replace("299.1", "NaN"), "is damaged"),
        (lambda text: text.replace("299.1", "299.7"), "something in it has changed since it was made"),
        (lambda text: text.replace('"firmware": "', '"firmware": "1'), "something in it has changed since it was made"),
        (lambda text: text.replace('"components"', '"componants"'), "is damaged"),
        (
            lambda text: text.replace('"2026-02-20T10:00:00+00:00",\n "sagbench"', '"yesterday",\n "sagbench"'),
            "is damaged",
        ),
        (lambda text: "", "not JSON any more"),
    ],
)
def test_a_damaged_one_is_said_and_an_older_one_not_quietly_used(damage, said):
    store.save(SOUND, "2026-02-01T10:00:00+00:00")
    path = store.save(SOUND, SOUND.made)
    text = damage(path.read_text())
    assert text != path.read_text()
    path.write_text(text)
    found = store.find(INFO, NOW)
    assert found.unfit and found.calibration is None and said in found.sentence and str(path) in found.sentence


@given(st.binary(max_size=200))
def test_whatever_is_in_the_file_is_a_sentence(tmp_path_factory, junk):
    path = tmp_path_factory.mktemp("junk") / "calibration.json"
    path.write_bytes(junk)
    with pytest.raises(ValueError, match="calibration.json"):
        store.read(path)


def test_a_full_disk_leaves_what_was_there(place, monkeypatch):
    store.save(SOUND, SOUND.made)
    before = {p.name: p.read_text() for p in place.iterdir()}

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UsageError, match="no space left on device"):
        store.save(replace(SOUND, firmware="9"), "2026-02-28T10:00:00+00:00")
    assert {p.name: p.read_text() for p in place.iterdir()} == before


def test_a_folder_that_cannot_be_is_said_before(place):
    place.write_text("a file where the folder should be")
    with pytest.raises(UsageError, match="cannot be written"):
        store.must_be_writable()


SESSION = Session(
    7,
    0xABCD,
    "1.0",
    "2026-03-01T09:00:00+00:00",
    Curve((0.1, 0.2), 0.05),
    [
        Seen("self", Setup(((3, 1, True), (3, 2, False)), 3), Reference.AVCC, 333.25, 16),
        Seen("external", Setup(((1, 1, True), (24, 1, False)), 24, across=(1, 24)), Reference.V1V1, 100.0, 16),
    ],
    [Draw("self", (24, 4), 80.5, 64, {24: 1000.0}), Draw("external", (5,), 90.5, 64, {}, (1000.0, 12.0))],
    {"self": "2026-03-01T09:00:10+00:00", "1-24": "2026-03-01T09:01:00+00:00"},
    Given(470.0, 0.47),
)


def test_unfinished_readings_come_back(place):
    assert from_plain(json.loads(json.dumps(to_plain(SESSION)))) == SESSION
    store.save_session(SESSION)
    assert store.load_session(INFO, NOW) == (SESSION, "")
    store.forget_session(7)
    assert store.load_session(INFO, NOW) == (None, "") and not list(place.iterdir())


@pytest.mark.parametrize(
    "change, info, now, said",
    [
        ({}, INFO, NOW + timedelta(days=3), "too old"),
        ({}, replace(INFO, wiring_id=1), NOW, "another fixture or wiring"),
        ({"serial": 7, "begun": "x"}, INFO, NOW, "damaged"),
    ],
)
def test_unfinished_readings_that_do_not_belong_are_said(change, info, now, said):
    store.save_session(replace(SESSION, **change))
    session, note = store.load_session(info, now)
    assert session is None and said in note


def test_half_a_file_of_readings_is_said():
    path = store.save_session(SESSION)
    path.write_text(path.read_text()[:100])
    session, note = store.load_session(INFO, NOW)
    assert session is None and "damaged" in note


def test_forgetting_the_resistor_keeps_the_rest():
    session = from_plain(to_plain(SESSION))
    session.forget_external()
    assert session.external is None and [s.stage for s in session.seen] == ["self"]
    assert [d.stage for d in session.draws] == ["self"] and list(session.done) == ["self"]


def test_what_the_model_gets_holds_drift_with_temperature():
    """By hand: 3 K either way, anywhere: 1.73 K; 30 ohm of pin at 0.3 %/K and 269 ohm at 50e-6/K, rising together."""
    priors = priors_of(SOUND, load_fixture("bench24"))
    value, u = priors.known["strong_drive[6].high"]
    warm = 3 / 3**0.5 * (30 * 0.003 + 269.1 * 50e-6)
    assert value == 299.1 and u == pytest.approx((0.2**2 + 0.1**2 + warm**2) ** 0.5)
    assert priors.factors["strong_drive[6].high"]["temperature since calibration"] == pytest.approx(warm)
    assert "fixture 7" in priors.origin and priors.curve(16) == pytest.approx(-0.05)


def test_the_model_takes_whole_paths_as_they_are():
    parts = Components(load_fixture("bench24"), Priors({
        "strong_drive[6].high": (299.0, 0.1), "weak_load.low": (8350.0, 3.0), "level_drive.path": (805.0, 2.0), "channel[6]": (99.0, 1.0),
    }))
    typical = TYPICAL_LEVEL  # the level at which a calibrated path through a channel holds
    doubt = SHAPE_SD * 0.2 * value(parts.ron(0)) * between(typical)  # of the curve over the level: none where the path is known
    paths = (
        parts.line(6, S_LINE, True), parts.selector("weak_load", False, typical), parts.level_drive(typical), parts.ron(6)
    )
    assert [value(path) for path in paths] == [299.0, 8350.0, 805.0, 99.0]
    assert [standard(path) for path in paths] == pytest.approx([0.1, 3.0, 2.0, 1.0])
    hump = parts.fixture.standard(HUMP) * value(parts.ron(0)) * (1 - TYPICAL_CURVE)
    assert standard(parts.level_drive(0.5)) == pytest.approx(hypot(2.0, doubt, hump))
    assert value(parts.level_drive(0.5)) == pytest.approx(805.0 + 0.2 * value(parts.ron(0)) * (1 - TYPICAL_CURVE))
    parts = Components(load_fixture("bench24"), Priors({"channel[6]": (100.0, 1.0), "channel_hump": (0.2, 0.01)}))
    assert [value(parts.ron(6, level)) for level in (0.0, 0.5, 1.0)] == pytest.approx([100.0, 120.0, 100.0])
    parts.learn_ron(6, uncertain(110.0, 0.1, "in place"), 0.5)
    assert value(parts.ron(6, 0.0)) == pytest.approx(110.0 / 1.2)
    assert value(parts.line(6, S_LINE, False)) == pytest.approx(300.0)  # the other side is not known: data book


@pytest.mark.parametrize("rest", [0.2, 0.3, 0.4])
def test_what_the_user_vouches_for_makes_u_that_holds_95_percent(rest):
    """Anywhere within 1, and a normal remainder: the share within k = 2 by the integral over the rectangle."""
    told = Given(2.5, 1.0)
    u, normal = hypot(told.u, rest), NormalDist(0, rest)
    points = [(n + 0.5) / 500 - 1 for n in range(1000)]
    share = sum(normal.cdf(2 * u - x) - normal.cdf(-2 * u - x) for x in points) / len(points)
    assert 0.945 < share < 0.97
    assert reference(SOUND, load_fixture("bench24"), "reference", told, 511.0).u == pytest.approx(told.u)


def test_a_channels_curve_is_between_data_sheets_parabola_and_the_textbook_gate():
    """74HC4051 at 5 V, thresholds of 0.8 V: alone at 0.4 V a device has 4.2 / 3.8 of its least, at 0.8 V and on 4.2 / 3.4."""
    alone = (4.2 / 3.8 - 1) / (4.2 / 3.4 - 1)
    assert curve(0.08) == pytest.approx((alone + 4 * 0.08 * 0.92) / 2)
    assert curve(0.92) == pytest.approx(curve(0.08)) and between(0.08) == pytest.approx(alone - 4 * 0.08 * 0.92)
    assert [curve(x) for x in (0.0, 0.5, 1.0)] == pytest.approx([0.0, 1.0, 0.0])
    assert max((between(x / 100), x) for x in range(51)) == (pytest.approx(1 - 4 * 0.16 * 0.84), 16)
