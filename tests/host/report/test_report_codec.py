# SPDX-License-Identifier: MIT
"""The record file: round trip, schema, and what is said of a file that is none.

Outside reference: the schema is judged by the `jsonschema` package's own
meta-schema of JSON Schema 2020-12, the files by its validator.
"""
import json
import math
from dataclasses import MISSING, fields, is_dataclass, replace

import jsonschema
import pytest
from hypothesis import given, settings, strategies as st

from host.report import examples
from sagbench import record as model
from sagbench.record import Contact, Outcome, Quantity, Verdict
from sagbench.report import codec

SCHEMA = codec.schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
DEFS = {
    "quantity": model.Quantity, "finding": model.Finding, "pin_contact": model.PinContact,
    "load_reading": model.LoadReading, "pin_record": model.PinRecord, "logic_miss": model.LogicMiss,
    "logic": model.LogicRecord, "fixture": model.FixtureRecord, "timing": model.Timing,
    "contribution": model.Contribution, "measured": model.Measured, "family_guess": model.FamilyGuess,
    "diagnosis": model.Diagnosis, "decision_rule": model.DecisionRule,
}


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", examples.ALL)
def test_each_example_is_valid_and_comes_back_as_it_was(name):
    record = examples.ALL[name]()
    text = codec.to_json(record)
    VALIDATOR.validate(json.loads(text))
    assert codec.from_json(text) == record


@pytest.mark.parametrize("name", DEFS)
def test_schema_and_record_have_the_same_fields(name):
    described = SCHEMA["$defs"][name]
    assert set(described["properties"]) == {field.name for field in fields(DEFS[name])}
    needed = {f.name for f in fields(DEFS[name]) if f.default is MISSING and f.default_factory is MISSING}
    assert set(described["required"]) == needed


def test_every_dataclass_of_the_record_is_described():
    classes = {c for c in vars(model).values() if isinstance(c, type) and is_dataclass(c)}
    assert classes == set(DEFS.values()) | {model.SweepRecord}
    assert set(SCHEMA["properties"]) == {f.name for f in fields(model.SweepRecord)} | {"kind", "schema_version"}


def test_the_words_of_the_schema_are_those_of_the_record():
    assert SCHEMA["properties"]["verdict"]["enum"] == [v.value for v in Verdict]
    assert SCHEMA["$defs"]["outcome"]["enum"] == [o.value for o in Outcome]
    assert SCHEMA["$defs"]["pin_contact"]["properties"]["contact"]["enum"] == [c.value for c in Contact]


@given(st.floats(allow_nan=False, allow_infinity=False), st.floats(min_value=0, allow_infinity=False),
       st.text(st.characters(), max_size=30))
@settings(max_examples=60, deadline=None)
def test_any_number_and_any_text_survive(value, u, text):
    record = replace(examples.sound_inverter(), supply_volts=Quantity(value, u, "V"), marking=text, notes=(text,))
    assert codec.from_json(codec.to_json(record).encode("utf-8").decode("utf-8")) == record


def test_a_word_that_was_not_utf_8_can_be_written_and_comes_back():
    record = replace(examples.sound_inverter(), marking="74LS\udcff04")
    assert codec.from_json(codec.to_json(record).encode("utf-8").decode("utf-8")) == record


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_null_and_comes_back_as_not_a_number(bad):
    record = replace(examples.sound_inverter(), supply_volts=Quantity(bad, 0.1, "V"))
    data = json.loads(codec.to_json(record))
    assert data["supply_volts"]["value"] is None
    VALIDATOR.validate(data)
    back = codec.from_json(json.dumps(data)).supply_volts
    assert back is not None and math.isnan(back.value)


def test_a_file_from_before_an_optional_field_is_still_read():
    data = json.loads(codec.to_json(examples.sound_inverter()))
    del data["partial"], data["pins"][1]["low_ohm"]
    record = codec.from_json(json.dumps(data))
    assert record.partial == "" and record.pins[1].low_ohm is None


def _without_the_news_of_version_2(place):
    if isinstance(place, dict):
        return {key: _without_the_news_of_version_2(item) for key, item in place.items()
                if key not in ("budget", "measured", "families", "diagnoses", "rule")}
    return [_without_the_news_of_version_2(item) for item in place] if isinstance(place, list) else place


@pytest.mark.parametrize("name", examples.ALL)
def test_a_file_of_version_1_is_still_read(name):
    data = _without_the_news_of_version_2(json.loads(codec.to_json(examples.ALL[name]())))
    data["schema_version"] = 1
    VALIDATOR.validate(data)
    record = codec.from_json(json.dumps(data))
    assert record.families == () and record.rule is None and all(pin.measured == () for pin in record.pins)
    assert record.verdict is examples.ALL[name]().verdict


def _changed(path, value):
    data = json.loads(codec.to_json(examples.weak_gate()))
    place = data
    for key in path[:-1]:
        place = place[key]
    if value is MISSING:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return data


@pytest.mark.parametrize("path, value, said", [
    (("verdict",), "splendid", "verdict is 'splendid', must be one of 'sound'"),
    (("pins", 2, "findings", 0, "outcome"), "pass", "pins[2].findings[0].outcome is 'pass'"),
    (("pins", 0, "pin"), "one", 'pins[0].pin is "one", must be a whole number'),
    (("pins", 0, "pin"), True, "pins[0].pin is true, must be a whole number"),
    (("supply_volts", "value"), "5", 'supply_volts.value is "5", must be a number'),
    (("pins",), {}, "pins is {}, must be a list"),
    (("fixture",), None, "fixture is null, must be an object"),
    (("colour",), "red", "the record has a field 'colour'"),
    (("part",), MISSING, "the record lacks the field 'part'"),
    (("pins", 7, "measured", 0, "value", "budget", 0, "u"), "much", 'budget[0].u is "much", must be a number'),
    (("diagnoses", 0, "probability"), "sure", 'diagnoses[0].probability is "sure", must be a number'),
    (("rule",), [], "rule is [], must be an object"),
    (("logic", 3, "misses", 0, "inputs"), {"A": True}, "has the key 'A', must be a pin number"),
])
def test_a_wrong_field_is_named_and_the_schema_refuses_it_too(path, value, said):
    data = _changed(path, value)
    with pytest.raises(codec.RecordFileError) as caught:
        codec.from_json(json.dumps(data), "x.json")
    assert said in str(caught.value) and str(caught.value).startswith("x.json:1: ")
    assert not VALIDATOR.is_valid(data)


@pytest.mark.parametrize("text, said", [
    ("", "is not JSON"), ("{", "is not JSON"), ("[1, 2]", "is not a sweep record"), ("{}", "is not a sweep record"),
    ('{"kind": "sagbench sweep", "schema_version": 99}', "has schema version 99, this sagbench reads 1 and 2"),
    ('{"kind": "sagbench sweep", "schema_version": true}', "has schema version True"),
    ('{"kind": NaN}', "is not JSON"), ("[" * 100_000, "nested too deep"),
])
def test_what_is_no_record_is_refused_in_a_sentence(text, said):
    with pytest.raises(codec.RecordFileError, match=said):
        codec.from_json(text, "x.json")
