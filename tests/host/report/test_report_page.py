# SPDX-License-Identifier: MIT
"""The page: one file, nothing fetched, nothing from outside taken for markup, and drawings that put points where they belong.

Outside reference: Python's `html.parser` and `xml.etree` read the page and its drawings.
"""
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from host.report import examples
from sagbench.record import Outcome, Quantity
from sagbench.report import loadline, scale as scales
from sagbench.report.markup import Markup, el
from sagbench.report.page import to_html
from sagbench.report.signs import sign

VOID = {"meta", "br", "hr"}


class Reader(HTMLParser):
    """Collects elements and text, and insists on every element being closed."""

    def __init__(self, page):
        super().__init__()
        self.open, self.elements, self.text = [], [], []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)

    def tags(self, name):
        return [attributes for tag, attributes in self.elements if tag == name]


@pytest.fixture(scope="module")
def pages():
    return {name: to_html(make()) for name, make in examples.ALL.items()}


@pytest.mark.parametrize("name", examples.ALL)
def test_the_page_is_well_formed_and_fetches_nothing(pages, name):
    page = pages[name]
    reader = Reader(page)
    assert not {tag for tag, _ in reader.elements} & {"script", "link", "img", "iframe", "object", "base", "form", "image", "use"}
    for tag, attributes in reader.elements:
        assert not [key for key in attributes if key.startswith("on") or key in ("src", "href", "xlink:href", "style")]
    assert re.findall(r"url\((?!#hatch-)", page) == [] and "@import" not in page
    assert "default-src 'none'" in reader.tags("meta")[1]["content"]


def drawings(page):
    """The outermost `svg` elements of a page."""
    depth, start = 0, 0
    for tag in re.finditer(r"<(/?)svg\b", page):
        if not tag[1] and depth == 0:
            start = tag.start()
        depth += -1 if tag[1] else 1
        if depth == 0:
            yield page[start:tag.end() + 1]


def test_the_drawings_are_well_formed_xml(pages):
    found = [ElementTree.fromstring(drawing) for drawing in drawings(pages["weak_gate"])]
    assert len(found) > 10


def test_an_output_far_off_leaves_the_drawing_and_does_not_flatten_the_others():
    """Scale up to 1.5 V (2.5 times the limit of 0.5 V and 15 %, in steps of 0.5 V), base 176 and top 12 as below."""
    record = examples.sound_inverter()
    loads = tuple(replace(r, volts=Quantity(3.0, 0.03, "V")) if r.point == "both" else r for r in record.pins[1].loads)
    record = replace(record, pins=(record.pins[0], replace(record.pins[1], loads=loads), *record.pins[2:]))
    scale = scales.scale_for(record, "sink")
    assert scale.volts == (0.0, pytest.approx(1.5))
    drawing = loadline.load_line(record, record.pins[1], scale)
    edge = re.findall(r'd="M([\d.]+) ([\d.]+)l[^"]*" class="off-scale"', drawing)
    assert [(float(x), float(y)) for x, y in edge] == [(pytest.approx(scale.x(0.0237), abs=0.06), 12.0)]
    assert "both: 3.000 V ± 0.030 V at 23.7 mA ± 0.5 mA" in drawing
    window = next(e for e in ElementTree.fromstring(drawing).iter("svg") if e.get("y") == "12")
    assert [e.get("class") for e in window] == ["other"] * 5 + ["own"]       # lines are cut off at the edge, points are not


def test_names_from_outside_are_text(pages):
    reader = Reader(pages["hostile"])
    text = "".join(reader.text)
    assert "<script>alert(1)</script>[red]<U+001B>[31m<U+202E>LS04 & \"x\"" in text
    assert "hex <i>inverter</i>" in text and "<b>1A" in text
    assert reader.tags("i") == reader.tags("b") == reader.tags("script") == []


def test_an_attribute_cannot_be_left():
    assert el("p", class_="\" onclick=\"x") == "<p class=\"&quot; onclick=&quot;x\"></p>"
    assert isinstance(el("p", el("b", "<")), Markup) and el("p", el("b", "<")) == "<p><b>&lt;</b></p>"


def test_every_id_is_used_once_and_every_reference_has_its_id(pages):
    page = pages["weak_gate"]
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids)) > 0
    assert set(re.findall(r"url\(#([^)]+)\)", page)) <= set(ids)


@pytest.mark.parametrize("name", examples.ALL)
def test_drawings_say_in_words_what_they_show(pages, name):
    for drawing in drawings(pages[name]):
        head = drawing[:drawing.index(">") + 1]
        assert 'aria-hidden="true"' in head or ('role="img"' in head and drawing[len(head):].startswith("<title>"))


def test_the_page_says_what_the_record_says(pages):
    text = re.sub(r"\s+", " ", "".join(Reader(pages["weak_gate"]).text))
    for said in ("NOT SOUND", "quad 2-input NAND gate", "0.670 V ± 0.013 V", "≤ 0.4 V", "-0.270 V", "beyond", "cannot tell",
                 "pin 8 (3Y) must be low with 3A high, 3B high, but is at 0.93 V", "12.4 mA ± 0.5 mA", "DM7400",
                 "input current", "Not measured is never a pass"):
        assert said in text, said


def test_nothing_measured_gives_a_page_without_load_lines(pages):
    assert "Load lines" not in pages["not_seated"] and "NOT FINISHED" in pages["not_seated"]


def test_each_outcome_has_its_own_shape():
    shapes = {re.sub(r'class="[^"]*"', "", sign(outcome)) for outcome in Outcome}
    assert len(shapes) == len(Outcome)


def test_a_point_is_drawn_where_it_was_measured():
    """By hand: scale 0..25 mA over 320 - 44 - 12 = 264, 0..1.5 V over 214 - 12 - 38 = 164 from the base at 176."""
    record = examples.weak_gate()
    scale = scales.scale_for(record, "sink")
    assert (scale.most_amperes, scale.volts) == (pytest.approx(0.025), (0.0, pytest.approx(1.5)))
    assert scale.x(0.0125) == pytest.approx(44 + 132) and scale.y(0.75) == pytest.approx(176 - 82)
    assert scale.x(-0.0125) == scale.x(0.0125)


def test_what_half_of_the_outputs_need_is_drawn():
    """A 4000B output under a medium load is volts away from its limit of 0.4 V and sound."""
    record = examples.sound_inverter()
    pins = tuple(replace(p, loads=tuple(replace(r, volts=Quantity(3.1, 0.03, "V")) if r.point == "both" else r
                                        for r in p.loads)) for p in record.pins)
    scale = scales.scale_for(replace(record, pins=pins), "sink")
    assert scale.holds(3.1)


def test_the_barred_field_ends_at_the_promised_corners():
    record = examples.sound_inverter()
    scale = scales.scale_for(record, "sink")
    drawing = ElementTree.fromstring(loadline.load_line(record, record.pins[1], scale))
    path = next(e.get("d") for e in drawing.iter() if e.get("class") == "barred")
    corners = re.findall(r"V([\d.]+)H([\d.]+)", path)
    expected = [(scale.y(0.4), scale.x(0.004)), (scale.y(0.5), scale.x(0.008))]
    assert [(float(v), float(h)) for v, h in corners] == [pytest.approx(e, abs=0.06) for e in expected]


@pytest.mark.parametrize("name", ["sound_inverter", "weak_gate", "shorted_chip"])
@pytest.mark.parametrize("direction", ["sink", "source"])
def test_everything_drawn_is_inside_the_drawing(name, direction):
    record = examples.ALL[name]()
    scale = scales.scale_for(record, direction)
    for pin in record.pins:
        for circle in ElementTree.fromstring(loadline.load_line(record, pin, scale)).iter("circle"):
            assert scales.LEFT <= float(circle.get("cx")) <= scales.WIDTH - scales.RIGHT + 0.1
            assert scales.TOP <= float(circle.get("cy")) <= scales.HEIGHT - scales.BOTTOM


def test_figures_that_are_not_numbers_do_not_break_the_page():
    record = examples.weak_gate()
    loads = tuple(replace(r, volts=Quantity(float("nan"), float("inf"), "V")) for r in record.pins[2].loads)
    findings = tuple(replace(f, value=Quantity(float("nan"), 0.1, "V"), margin=float("nan")) for f in record.pins[2].findings)
    pins = tuple(replace(p, loads=loads, findings=findings) if p.pin == 3 else p for p in record.pins)
    page = to_html(replace(record, pins=pins))
    Reader(page)
    assert "nan" not in "".join(re.findall(r'(?:points|d|cx|cy|x|y)="([^"]*)"', page))
    assert "unknown" in page


def _luminance(color):
    """Relative luminance, WCAG 2.1 (quoted from memory)."""
    parts = [int(color[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one, other):
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("name", ["ink", "soft", "within", "beyond", "odd", "unsure", "unmeasured"])
def test_every_colour_of_text_can_be_read_on_every_ground(pages, name):
    """WCAG 2.1, success criterion 1.4.3 (AA): 4.5 to 1; black on white is 21 to 1."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    colors = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", pages["weak_gate"]))
    for ground in ("#ffffff", colors["field"]):
        assert _contrast(colors[name], ground) >= 4.5
