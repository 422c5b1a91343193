"""The forecast of lenses and the day at a glance."""

import dataclasses
import math
import xml.etree.ElementTree as ET
from datetime import time
from itertools import pairwise

from sample_plan import choice, sample_plan
from sideport.lens.model import Placement
from sideport.present.day_strip import day_description, day_strip
from sideport.present.forecast_strip import forecast_description, forecast_strip

SVG = "{http://www.w3.org/2000/svg}"
EYE = sample_plan().eyes[0]


def texts(drawing: str) -> list[str]:
    return [node.text or "" for node in ET.fromstring(drawing).iter(f"{SVG}text")]


def test_the_given_lens_is_marked_by_shape_and_word() -> None:
    """One filled diamond and one word GIVEN; the others are circles."""
    drawing = forecast_strip(choices=EYE.choices, lens=EYE.lens, target_d=-0.5, ident="s")
    assert drawing.count('class="strip-given"') == 1
    assert drawing.count('class="strip-other"') == len(EYE.choices) - 1
    assert sum(words.endswith("GIVEN") for words in texts(drawing)) == 1


def test_minus_is_on_the_left_and_called_more_short_sighted() -> None:
    """A more myopic expectation is drawn further left."""
    pair = (choice(21.0, Placement.BAG, -1.0, 0.3), choice(20.0, Placement.BAG, 0.5, 0.3))
    drawing = ET.fromstring(forecast_strip(choices=pair, lens=None, target_d=0.0, ident="s"))
    marks = [float(node.attrib["cx"]) for node in drawing.iter(f"{SVG}circle")]
    assert marks[0] < marks[1]
    ends = {node.text: float(node.attrib["x"]) for node in drawing.iter(f"{SVG}text")}
    assert ends["more short-sighted"] < ends["more long-sighted"]


def test_every_mark_and_bar_lies_on_the_strip() -> None:
    """Wide spreads and far targets widen the axis; nothing is cut off."""
    wide = (choice(30.0, Placement.BAG, -14.0, 3.0), choice(10.0, Placement.SULCUS, 6.0, 2.0))
    drawing = ET.fromstring(forecast_strip(choices=wide, lens=wide[1], target_d=-3.0, ident="s"))
    for node in drawing.iter(f"{SVG}line"):
        assert 0 <= float(node.attrib["x1"]) <= 320
        assert 0 <= float(node.attrib["x2"]) <= 320


def test_a_given_lens_outside_the_choices_is_added_and_told() -> None:
    """The strip never hides the lens that will go in; power, sign and place are in the words."""
    given = choice(-3.0, Placement.SULCUS, -0.6, 0.4)
    told = forecast_description(choices=EYE.choices, lens=given, target_d=-0.5)
    assert "5: −3.0\u00a0D SULCUS Three-piece C, given" in told
    assert "(5) −3.0\u00a0D SULCUS GIVEN" in texts(
        forecast_strip(choices=EYE.choices, lens=given, target_d=-0.5, ident="s")
    )


def test_the_tight_strip_keeps_every_mark_beside_its_words() -> None:
    """On paper each lens takes one line: its mark lies right of its words, and the given one keeps diamond and word."""
    drawing = forecast_strip(choices=EYE.choices, lens=EYE.lens, target_d=-0.5, ident="s", tight=True)
    tree = ET.fromstring(drawing)
    words = [node for node in tree.iter(f"{SVG}text") if node.attrib["class"] == "strip-lens"]
    bars = [node for node in tree.iter(f"{SVG}line") if node.attrib["class"] == "strip-spread"]
    assert len(words) == len(EYE.choices)
    assert drawing.count('class="strip-given"') == 1
    for node in words:
        end = float(node.attrib["x"]) + 0.62 * float(node.attrib["font-size"]) * len(node.text or "")
        assert all(end <= float(bar.attrib["x1"]) for bar in bars)
    width, height = (float(part) for part in tree.attrib["viewBox"].split()[2:])
    assert (width, height) == (420.0, 30.0 + 16.0 * len(EYE.choices) + 19.0)
    assert "Left: more short-sighted" in texts(drawing)


def test_no_lens_and_unknown_expectations_still_draw() -> None:
    """An empty shelf and a NaN expectation give a strip, with words for what is not known."""
    blind = dataclasses.replace(EYE.choices[0], refraction_d=math.nan, sd_d=math.nan)
    assert "not known" in texts(forecast_strip(choices=(blind,), lens=None, target_d=-0.5, ident="s"))
    assert "No lens to compare." in forecast_strip(choices=(), lens=None, target_d=-0.5, ident="s")


def test_the_day_strip_has_a_block_for_each_listed_eye_in_its_row() -> None:
    """Six blocks, three a table, and both the end of the day and the finish in words."""
    plan = sample_plan()
    drawing = ET.fromstring(day_strip(plan=plan, ident="d"))
    blocks = [node for node in drawing.iter(f"{SVG}rect") if "day-eye" in node.attrib["class"]]
    assert len(blocks) == 6
    assert sorted({float(node.attrib["y"]) for node in blocks}) == sorted(float(n.attrib["y"]) for n in blocks)[::3]
    assert "day ends 10:30" in texts(day_strip(plan=plan, ident="d"))
    assert "expected finish 10:10" in texts(day_strip(plan=plan, ident="d"))
    assert "Table 1: 1 at 08:00, 3 at 08:25, 5 at 08:50." in day_description(plan=plan)


def test_blocks_do_not_overlap_and_run_in_time() -> None:
    """Later eyes on a table stand further right."""
    drawing = ET.fromstring(day_strip(plan=sample_plan(), ident="d"))
    rows: dict[str, list[tuple[float, float]]] = {}
    for node in drawing.iter(f"{SVG}rect"):
        rows.setdefault(node.attrib["y"], []).append((float(node.attrib["x"]), float(node.attrib["width"])))
    for row in rows.values():
        assert all(x + width <= later for (x, width), (later, _) in pairwise(row))


def test_an_empty_day_draws() -> None:
    """No eye, no finish."""
    plan = dataclasses.replace(sample_plan(), eyes=(), finishes=None)
    assert "no eyes" in day_strip(plan=plan, ident="d")


def test_the_labels_below_the_strip_never_lie_over_the_others_line() -> None:
    """Whichever comes first, early or late in the day: a line ends above a label that spans its place."""
    plan = sample_plan()
    for ends, finishes in ((time(10, 30), time(10, 25)), (time(10, 20), time(10, 30)), (time(8, 30), time(8, 40))):
        drawing = ET.fromstring(day_strip(plan=dataclasses.replace(plan, ends=ends, finishes=finishes), ident="d"))
        lines = [node.attrib for node in drawing.iter(f"{SVG}line") if node.attrib["class"] == "day-end"]
        for node in drawing.iter(f"{SVG}text"):
            if node.attrib["class"] == "day-end-word":
                x, y, room = float(node.attrib["x"]), float(node.attrib["y"]), 7.5 * len(node.text or "")
                low, high = (x - room, x) if node.attrib["text-anchor"] == "end" else (x, x + room)
                for line in lines:
                    assert not (low < float(line["x1"]) < high and float(line["y2"]) > y - 12)
