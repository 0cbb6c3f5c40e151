"""What a part file with mistakes is answered.

Referee for the shape of files: the general-purpose `jsonschema` library with the same schema; for TOML: `tomllib`.

SPDX-License-Identifier: MIT
"""
import copy
import json
import random
import tomllib
from pathlib import Path

import jsonschema
import pytest

from sagbench.errors import PartFileError
from sagbench.parts import load_file, load_part, ratings, sequence
from sagbench.parts.behaviour import Network
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.positions import find
from sagbench.parts.ratings import ORDER
from sagbench.parts.reader import read, schema
from sagbench.parts.shape import check

ROOM = LIBRARY.parent
FILES = sorted(LIBRARY.glob("*.toml"))

FIVE = '''\
function = "05"
title = "hex inverter, open collector"

[[pinout]]
pins = ["1A", "1Y", "2A", "2Y", "3A", "3Y", "GND", "4Y", "4A", "5Y", "5A", "6Z", "6A", "VCC"]

[[block]]
each = ["1", "2", "3", "4", "5", "6"]
inputs = ["{}A"]
open_colector = ["{}Y"]
outputs = ["{}Y"]
logic = ["{}Y = !{}A &"]

[family.LX]
icc_ma = { high = 2.4 }

[family.LS]
icc_ma = { high = 2.4, low = "6.6" }
'''


def mistakes(text: str) -> list[str]:
    with pytest.raises(PartFileError) as caught:
        read(text, "05.toml")
    return list(caught.value.mistakes)


def test_five_mistakes_are_all_told_with_their_places() -> None:
    told = mistakes(FIVE)
    starts = [line.split(" ")[0] for line in told]
    assert starts == ["05.toml:5:76:", "05.toml:10:1:", "05.toml:12:23:", "05.toml:14:1:", "05.toml:18:30:"], told
    assert '"6Z"' in told[0] and 'did you mean "6Y"?' in told[0]
    assert 'did you mean "open_collector"?' in told[1]
    assert "the end of the statement" in told[2]
    assert '"LX"' in told[3]
    assert '"6.6"' in told[4] and "[typical, maximum]" in told[4]
    for line in told:
        assert "found " in line and ", expected " in line


def test_mistakes_of_syntax_are_all_told() -> None:
    told = mistakes('function = 05\ntitle = hex inverter\n[[pinout]\npins = ["1A"]\n')
    assert [line.split(": ")[0].rsplit(":", 1)[0] for line in told[:3]] == ["05.toml:1", "05.toml:2", "05.toml:3"]


GOOD = (LIBRARY / "74.toml").read_text()


@pytest.mark.parametrize(("old", "new", "place", "part"), [
    ('"1CLR", "1D"', '"1D", "1D"', "7:15", "a second time"),
    ('"1CLR", "1D"', '"1CLR", "NC", "1D"', "7:8", "an even number"),
    ('"{}D", "{}CLK", "{}PRE"', '"{}D", "{}CLK"', "", "'1PRE'"),
    ("{}q | !{}PRE", "{}q | !{}PRF", "16:17", 'did you mean "1PRE"?'),
    ("{}Q = {}q | !{}PRE", "{}Q = {}Q | !{}PRE", "16", "a loop"),
    ("outputs = [", "tri_state = [", "", "no `when`"),
    ('"{}CLR=1",', '"{}CLRR=1",', "21:4", 'did you mean "1CLR"?'),
    ('"{}CLR=1",', '"{}Q=1",', "21:4", "an output"),
    ('"{}CLR=1",', '"{}CLR=2",', "21:4", "levels are 0, 1 and z"),
    ('"*CLK" = -3.2', '"*CLKK" = -3.2', "", "the name of a pin"),
    ("{}QN = !{}q", "{}Q = !{}q", "", "a second statement"),
    ("{}Q = {}q", "{}D = {}q", "", "an input"),
])
def test_single_mistakes(old: str, new: str, place: str, part: str) -> None:
    assert old in GOOD
    told = mistakes(GOOD.replace(old, new, 1))
    hits = [line for line in told if part in line]
    assert hits, told
    assert any(line.startswith(f"05.toml:{place}") for line in hits), told


@pytest.mark.parametrize(("name", "old", "new", "place", "part"), [
    ("74", '"{}D=1; {}CLR=0; {}CLK^; {}CLR=1"', '"{}D=1; {}CLR=0; {}CLK^; {}CLR=1", "{}D=0 {}CLK=1"', "30", "an order that does not matter"),
    ("74", '"{}PRE=0; {}CLR=0; {}PRE=1; {}CLR=1"', '"{}PRE=0; {}CLR=0; {}PRE=1 {}CLR=1"', "31", "an order that does not matter"),
    ("74", '"{}CLR=1",', '"2CLR=1",', "21", "2CLR, a pin of another block"),
    ("245", '"G=1; A=11111111; G=0",', '"A=11111111; DIR=0",', "15", "one driver at a time"),
    ("245", '"G=1; A=11111111; G=0",', '"G=1; A=11111111; DIR=0 G=0 A=zzzzzzzz",', "15", "one driver at a time"),
])
def test_programs_that_must_not_be_carried_out(name: str, old: str, new: str, place: str, part: str) -> None:
    """A user's file with steps in which the order matters, or that drive against the part."""
    text = (LIBRARY / f"{name}.toml").read_text()
    assert old in text
    with pytest.raises(PartFileError) as caught:
        read(text.replace(old, new, 1), "05.toml", "05.toml")
    assert any(line.startswith(f"05.toml:{place}") and part in line for line in caught.value.mistakes), caught.value.mistakes


def test_file_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(PartFileError, match="cannot be read"):
        load_file(tmp_path / "none.toml")
    odd = tmp_path / "05.toml"
    odd.write_bytes(b'function = "05"\ntitle = "\xff"\n')
    with pytest.raises(PartFileError, match=r"05.toml:2:1: found bytes that are not UTF-8"):
        load_file(odd)


def test_users_file_takes_the_place_of_the_librarys(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text((LIBRARY / "04.toml").read_text().replace("hex inverter", "my inverter"))
    part = load_part("74LS04", user_dirs=[tmp_path])
    assert part.title == "my inverter"
    assert part.origin == str(tmp_path / "mine.toml")
    assert any("mine.toml" in note and "in place of" in note for note in part.notes)
    assert load_part("74LS04").title == "hex inverter" and load_part("74LS04").origin == "library"


def test_a_part_like_another_under_its_own_number() -> None:
    """9316 and 93L16 have the pins and the logic of the 74161 (Fairchild; from memory), and limits of their own."""
    one, other = load_part("9316"), load_part("74161")
    assert [p.name for p in one.pins] == [p.name for p in other.pins] and one.sequence == other.sequence
    low = load_part("93L16PC")
    assert low.name == "93L16" and low.limits[1].iil.value == pytest.approx(-0.4e-3) != one.limits[1].iil.value


def test_like_what_is_not_there() -> None:
    told = mistakes('function = "99"\nlike = "1161"\ntitle = "x"\n[family.74]\n')
    assert told == ['05.toml:2:8: found "1161", expected a function of the library; did you mean "161"?'], told
    assert any("no `pinout`" in line for line in mistakes('function = "99"\ntitle = "x"\n[family.74]\n'))


def test_trains_of_pulses(tmp_path: Path) -> None:
    """`CLK^4096` is one step of so many pulses, after which a counter has counted them."""
    step = next(s for s in load_part("4040").sequence if s.pulses)
    assert not step.set and step.expect and all(count > 1 for count in step.pulses.values())
    text = (LIBRARY / "4040.toml").read_text()
    for wrong in ("CLK^0", "CLK^65536", "RST^2x"):
        assert any("pulses" in line or "NAME" in line for line in mistakes(text.replace("CLK^2047", wrong).replace("CLK^3", wrong)))


def test_memory_is_marched_through_and_looked_at_in_reads_only() -> None:
    """C- on 16 words with three backgrounds has 240 reads (van de Goor 1993: five reads a cell and background)."""
    part = load_part("74LS189")
    definition = load_file(LIBRARY / "189.toml")
    march = part.sequence[len(sequence._programmed(definition, Network(definition))):]
    assert sum(bool(step.expect) for step in march) == 5 * 16 * 3
    write = next(p.number for p in part.pins if p.name == "WE")
    assert not any(step.expect for step in march if write in step.set)
    text = (LIBRARY / "189.toml").read_text()
    assert any("an input pin" in line for line in mistakes(text.replace('write = "WE"', 'write = "WF"')))
    assert any("an output pin" in line for line in mistakes(text.replace('data_out = ["Q1"', 'data_out = ["D1"')))


def test_mistake_in_another_file_of_the_user_does_not_matter(tmp_path: Path) -> None:
    (tmp_path / "05.toml").write_text(FIVE)
    assert load_part("74LS04", user_dirs=[tmp_path]).name == "74LS04"
    with pytest.raises(PartFileError):
        load_part("74LS05", user_dirs=[tmp_path])


def test_example_of_the_language_page_is_a_part(tmp_path: Path) -> None:
    page = (ROOM / "LANGUAGE.md").read_text()
    example = page.split("```toml\n")[1].split("```")[0]
    (tmp_path / "126.toml").write_text(example)
    part = load_part("74LS126", user_dirs=[tmp_path])
    assert part.name == "74LS126A" and part.pin_count == 14
    assert {e.value for step in part.sequence for e in step.expect.values()} == {"L", "H", "Z"}


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_library_file_fits_the_schema_by_an_outside_checker(path: Path) -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(tomllib.loads(path.read_text()), schema())
    assert load_file(path).function == path.stem


TWO_LOGICS = '''\
function = "51"
title = "gate"

[[pinout]]
pins = ["A", "B", "C", "GND", "NC", "Y", "Z", "VCC"]

[[pinout]]
families = ["H"]
pins = ["A", "B", "NC", "GND", "NC", "Y", "Z", "VCC"]

[[block]]
families = ["LS"]
inputs = ["A", "B", "C"]
outputs = ["Y"]
logic = ["Y = !(A & B & C)"]

[[block]]
families = ["H"]
inputs = ["A", "B"]
outputs = ["Y"]
logic = ["Y = A | B"]

[[block]]
outputs = ["Z"]
logic = ["Z = !A"]

[family.LS]
iil_ma = { C = -0.8 }

[family.H]
title = "another gate"
'''


def test_one_number_can_be_two_functions(tmp_path: Path) -> None:
    (tmp_path / "51.toml").write_text(TWO_LOGICS)
    one, other = (load_part(name, user_dirs=[tmp_path]) for name in ("74LS51", "74H51"))
    assert (one.title, other.title) == ("gate", "another gate")
    assert [p.name for p in one.inputs] == ["A", "B", "C"] and [p.name for p in other.inputs] == ["A", "B"]
    assert one.pin(3).low_unit_loads == 2 and other.pin(3).role.value == "not connected"
    for part, wanted in ((one, lambda a, b, c: not (a and b and c)), (other, lambda a, b: a or b)):
        levels: dict[int, bool] = {}
        for step in part.sequence:
            levels |= step.set
            a_b_c = [levels[p.number] for p in part.inputs]
            assert step.expect[6].value == ("H" if wanted(*a_b_c) else "L")
            assert step.expect[7].value == ("L" if a_b_c[0] else "H")


@pytest.mark.parametrize(("old", "new", "place", "part"), [
    ('families = ["H"]\ninputs', 'families = ["H", "F"]\ninputs', "18:18:", "write [family.F] as well"),
    ('families = ["H"]\ninputs', 'families = ["H", "LS"]\ninputs', "21:10:", "a second statement for Y"),
    ('["A", "B", "C"]\n', '["A", "B"]\n', "15:25:", "'C'"),
    ('pins = ["A", "B", "NC"', 'pins = ["A", "B", "C"', "9:19:", '"C"'),
    ("[family.H]\n", "[family.H]\niil_ma = { C = -0.8 }\n", "31:12:", "'C'"),
    ("[[block]]\noutputs = [\"Z\"]", "[[block]]\nfamilies = [\"LS\"]\noutputs = [\"Z\"]", "9:43:", '"Z"'),
    ("[family.H]", "[family.H]\n[family.S]", "25:16:", "'A'"),
])
def test_mistakes_where_one_number_is_two_functions(old: str, new: str, place: str, part: str) -> None:
    assert TWO_LOGICS.count(old) == 1
    told = mistakes(TWO_LOGICS.replace(old, new))
    assert any(line.startswith(f"05.toml:{place}") and part in line for line in told), told


def test_family_without_a_block_is_told() -> None:
    text = TWO_LOGICS.replace("[[block]]\noutputs = [\"Z\"]", "[[block]]\nfamilies = [\"LS\"]\noutputs = [\"Z\"]")
    told = mistakes(text.replace("[family.H]", "[family.S]\n[family.H]"))
    assert any("found family S, expected a block for it" in line for line in told), told


def test_two_patterns_may_not_give_one_pin_two_figures() -> None:
    """In 107 and 112, `*K` would stand for CLK as well."""
    text = (LIBRARY / "112.toml").read_text()
    kind, rest = text.split("iil_ma = {", 1)
    both = f'{kind}iil_ma = {{ "*K" = -0.4,{rest}'
    told = mistakes(both)
    assert any("'*CLK', which stands for 1CLK as '*K' does" in line and "write 1CLK by its name" in line for line in told), told


def test_a_pins_own_name_goes_before_a_pattern(tmp_path: Path) -> None:
    text = (LIBRARY / "04.toml").read_text() + '\n[family.X]\n'
    text = text.replace("[family.X]", "").replace("LS = { ", 'LS = { iil_ma = { "*A" = -0.2, 2A = -0.8 }, load_source = "memory", ')
    (tmp_path / "04.toml").write_text(text)
    part = load_part("74LS04", user_dirs=[tmp_path])
    assert [p.low_unit_loads for p in part.inputs] == [0.5, 2, 0.5, 0.5, 0.5, 0.5]


def test_family_tables_fit_their_schema() -> None:
    for name in ORDER:
        name = ratings._LIKE.get(name, name)
        data = tomllib.loads((ROOM / "families" / f"{name}.toml").read_text())
        jsonschema.validate(data, schema("family"))
        assert check(data, schema("family")) == []
        assert data["family"] == name


def _broken(data: object, source: random.Random) -> object:
    """The data with one value somewhere replaced, removed or added."""
    data = copy.deepcopy(data)
    node, trail = data, []
    while isinstance(node, (dict, list)) and node and (source.random() < 0.8 or not trail):
        key = source.choice(list(node) if isinstance(node, dict) else range(len(node)))
        trail.append((node, key))
        node = node[key]
    holder, key = trail[-1]
    action = source.randrange(3)
    if action == 0:
        holder[key] = source.choice([7, -3.5, "odd", [], {}, True, ["a", 2], {"max": 1}])
    elif action == 1:
        del holder[key]
    elif isinstance(holder, dict):
        holder["extra"] = 1
    else:
        holder.append({"odd": 1})
    return data


def test_agrees_with_an_outside_checker_on_broken_files() -> None:
    """600 files with one thing broken: ours and jsonschema must both refuse or both accept."""
    source = random.Random(91)
    outside = jsonschema.Draft202012Validator(schema())
    refused = 0
    for _ in range(600):
        data = _broken(tomllib.loads(source.choice(FILES).read_text()), source)
        ours = check(data, schema())
        assert bool(ours) == (not outside.is_valid(data)), json.dumps(data, default=str)
        refused += bool(ours)
    assert 100 < refused < 600


@pytest.mark.parametrize("path", FILES + sorted((ROOM / "families").glob("*.toml")), ids=lambda p: p.stem)
def test_places_are_those_of_the_text(path: Path) -> None:
    """Every string, number and key is found where the text has it."""
    text = path.read_text()
    lines = text.split("\n")
    places = find(text)

    def walk(node: object, trail: tuple) -> int:
        if isinstance(node, dict):
            return sum(key_at(key, (*trail, key)) + walk(inner, (*trail, key)) for key, inner in node.items())
        if isinstance(node, list):
            return sum(walk(inner, (*trail, i)) for i, inner in enumerate(node))
        line, column = places.value(trail)
        rest = lines[line - 1][column - 1:]
        assert rest.startswith(f'"{node}"') if isinstance(node, str) else float(rest.split("#")[0].split(",")[0].strip(" }]")) == node
        return 1

    def key_at(key: str, trail: tuple) -> int:
        line, column = places.key(trail)
        rest = lines[line - 1][column - 1:]
        assert rest.startswith((key, f'"{key}"', "[")), (trail, rest)
        return 1

    assert walk(tomllib.loads(text), ()) >= 4


@pytest.mark.parametrize("origin", ["library", "mine.toml"])
def test_whatever_is_done_to_a_file_it_is_read_or_refused(origin: str) -> None:
    """400 files each with characters cut, doubled or changed, and 400 with values broken: a part, or told mistakes."""
    source = random.Random(17)
    refused = 0
    for round in range(800):
        text = source.choice(FILES).read_text()
        if round % 2:
            text = _as_toml(_broken(tomllib.loads(text), source))
        else:
            for _ in range(source.randrange(1, 4)):
                at = source.randrange(len(text))
                text = text[:at] + source.choice(["", "{", "]", '"', "=", "{}", "1", "&", "\n", "*", "^", "z"]) + text[
                    at + source.randrange(3):]
        try:
            read(text, "x.toml", origin)
        except PartFileError as error:
            refused += 1
            assert error.mistakes
            for line in error.mistakes:
                place = line.split(": ")[0].split(":")
                assert place[0] == "x.toml" and int(place[1]) >= 1 and int(place[2]) >= 1, line
    assert 200 < refused < 800


def _as_toml(node: object) -> str:
    """The data of a part file as TOML with inline tables (there is no writer in the standard library)."""
    def value(x: object) -> str:
        if isinstance(x, dict):
            return "{ " + ", ".join(f"{json.dumps(k)} = {value(v)}" for k, v in x.items()) + " }"
        if isinstance(x, list):
            return "[" + ", ".join(map(value, x)) + "]"
        return json.dumps(x, ensure_ascii=False)
    assert isinstance(node, dict)
    return "\n".join(f"{json.dumps(k)} = {value(v)}" for k, v in node.items())
