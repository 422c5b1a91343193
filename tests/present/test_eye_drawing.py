"""The surgeon's view: what lies where, checked against where a person's nose and temple are."""

import dataclasses
import math
import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_plan import sample_plan, wound
from sideport.day.plan import CutGrounds, EyePlan
from sideport.errors import ImpossibleInputError
from sideport.eye.summary import Estimate
from sideport.knowledge import Basis
from sideport.optics.side import Side
from sideport.present.eye_drawing import CENTRE, PX_PER_MM, eye_description, eye_drawing
from sideport.present.eye_geometry import (
    Seat,
    cut_outline,
    picture_angle_deg,
    seat_for,
    site_meridian_deg,
    temporal_meridian_deg,
)
from sideport.present.eye_legend import legend_rows
from sideport.present.eye_marks import EyeMark, MarkKind
from sideport.present.eye_sheet_data import drawing_data
from sideport.present.plan_marks import marks_of
from sideport.wound.nucleus import NucleusBelief
from sideport.wound.plan import Site, WoundPlan, WoundShape

SVG = "{http://www.w3.org/2000/svg}"
BELIEF = sample_plan().eyes[0].belief


def draw(side: Side, cut: WoundPlan | None, ident: str = "eye") -> ET.Element:
    return ET.fromstring(eye_drawing(side=side, wound=cut, belief=BELIEF, ident=ident))


def word_place(drawing: ET.Element, word: str) -> tuple[float, float]:
    """Where a word stands, right and up of the corneal centre."""
    found = next(node for node in drawing.iter(f"{SVG}text") if node.text == word)
    return float(found.attrib["x"]) - CENTRE[0], CENTRE[1] - float(found.attrib["y"])


def points(drawing: ET.Element, css: str) -> list[tuple[float, float]]:
    """Corners of a drawn line [mm], right and up of the corneal centre."""
    found = next(node for node in drawing.iter() if node.attrib.get("class") == css)
    pairs = [pair.split(",") for pair in found.attrib["points"].split()]
    return [((float(x) - CENTRE[0]) / PX_PER_MM, (CENTRE[1] - float(y)) / PX_PER_MM) for x, y in pairs]


def where(x: float, y: float) -> str:
    return ("right" if x > 0 else "left") if abs(x) > abs(y) else ("top" if y > 0 else "bottom")


@pytest.mark.parametrize(
    ("side", "site", "nose", "temple", "brow", "cheek"),
    [
        (Side.RIGHT, Site.SUPERIOR, "left", "right", "bottom", "top"),
        (Side.LEFT, Site.SUPERIOR, "right", "left", "bottom", "top"),
        (Side.RIGHT, Site.SUPEROTEMPORAL, "left", "right", "bottom", "top"),
        (Side.LEFT, Site.SUPERONASAL, "right", "left", "bottom", "top"),
        (Side.RIGHT, Site.TEMPORAL, "top", "bottom", "left", "right"),
        (Side.LEFT, Site.TEMPORAL, "top", "bottom", "right", "left"),
    ],
)
def test_the_face_lies_around_the_eye_as_the_seated_surgeon_sees_it(
    side: Side, site: Site, nose: str, temple: str, brow: str, cheek: str
) -> None:
    """At the head, looking towards the feet, the patient's right is on the surgeon's right: a right temple is right."""
    cut = wound(site, site_meridian_deg(side=side, site=site), ())
    drawing = draw(side, cut)
    for word, place in (("NOSE", nose), ("TEMPLE", temple), ("BROW", brow), ("CHEEK", cheek)):
        assert where(*word_place(drawing, word)) == place
    told = eye_description(side=side, wound=cut, belief=BELIEF)
    places = {"top": "at the top", "bottom": "at the bottom", "left": "on the left", "right": "on the right"}
    assert f"nose {places[nose]}" in told
    assert f"temple {places[temple]}" in told


@pytest.mark.parametrize(("side", "temporal_hour"), [(Side.RIGHT, "9"), (Side.LEFT, "3")])
def test_the_temporal_clock_hour_is_9_in_a_right_eye_and_3_in_a_left_one(side: Side, temporal_hour: str) -> None:
    """The examiner's clock face has 3 towards the nose of the right eye; the word TEMPLE stands beside the hour."""
    drawing = draw(side, None)
    hour, temple = word_place(drawing, temporal_hour), word_place(drawing, "TEMPLE")
    assert where(*hour) == where(*temple)
    assert all(any(node.text == str(h) for node in drawing.iter(f"{SVG}text")) for h in range(1, 13))


@given(st.floats(0, 360), st.floats(0, 360), st.sampled_from(Side), st.sampled_from(Seat))
def test_the_picture_is_turned_and_never_mirrored(first: float, second: float, side: Side, seat: Seat) -> None:
    """A turn keeps every difference of angles; a mirror would change its sign."""
    moved = [picture_angle_deg(meridian_deg=angle, side=side, seat=seat) for angle in (first, second)]
    assert math.isclose(math.cos(math.radians(moved[1] - moved[0] - second + first)), 1.0, abs_tol=1e-12)


@given(st.sampled_from(Site), st.floats(0, 44))
def test_left_and_right_sites_are_mirror_images(site: Site, stray: float) -> None:
    """A site of the left eye lies at the right eye's meridian mirrored in the vertical."""
    right = site_meridian_deg(side=Side.RIGHT, site=site)
    left = site_meridian_deg(side=Side.LEFT, site=site)
    assert (180 - right) % 360 == left % 360
    assert temporal_meridian_deg(side=Side.LEFT) == (180 - temporal_meridian_deg(side=Side.RIGHT)) % 360


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("site", Site)
def test_the_cut_is_drawn_to_scale_and_near_the_surgeon(side: Side, site: Site) -> None:
    """6.5 mm between the ends, the centre 1.5 mm behind a limbus of 11.7 mm, in the lower half of the picture."""
    drawing = draw(side, wound(site, site_meridian_deg(side=side, site=site), ()))
    outer, inner = points(drawing, "eye-cut"), points(drawing, "eye-inner")
    assert math.dist(outer[0], outer[-1]) == pytest.approx(6.5, abs=0.01)
    centre = outer[len(outer) // 2]
    assert math.hypot(*centre) == pytest.approx(11.7 / 2 + 1.5, abs=0.01)
    assert centre[1] < 0
    assert math.hypot(*inner[len(inner) // 2]) == pytest.approx(11.7 / 2 - 1.5, abs=0.01)
    if seat_for(site=site) is Seat.TEMPLE or site is Site.SUPERIOR:
        assert where(*centre) == "bottom"


@pytest.mark.parametrize(("shape", "further_back"), [
    (WoundShape.FROWN, 1), (WoundShape.CHEVRON, 1), (WoundShape.STRAIGHT, 1), (WoundShape.SMILE, 0),
])  # fmt: skip
def test_only_a_smile_follows_the_limbus(shape: WoundShape, further_back: int) -> None:
    """Frown, chevron and straight cuts end farther from the limbus than their centre; frown more than straight."""
    option = dataclasses.replace(wound(Site.SUPERIOR, 90.0, ()).chosen, shape=shape)
    outer = cut_outline(option=option, side=Side.RIGHT, limbus_radius_mm=5.85).outer
    gain = math.hypot(*outer[0]) - math.hypot(*outer[len(outer) // 2])
    assert gain == pytest.approx(0.0, abs=1e-9) if not further_back else gain > 0.3
    straight = dataclasses.replace(option, shape=WoundShape.STRAIGHT)
    line = cut_outline(option=straight, side=Side.RIGHT, limbus_radius_mm=5.85).outer
    assert line[0][1] == pytest.approx(line[-1][1])


@pytest.mark.parametrize("side", Side)
def test_a_temporal_cut_of_the_other_eye_is_refused(side: Side) -> None:
    """A temporal meridian of the fellow eye is this eye's nasal limbus."""
    other = wound(Site.TEMPORAL, temporal_meridian_deg(side=side.other), ())
    with pytest.raises(ImpossibleInputError, match="right and left"):
        eye_drawing(side=side, wound=other, belief=BELIEF, ident="eye")


def test_a_cut_longer_than_the_cornea_is_refused() -> None:
    """20 mm does not fit."""
    cut = wound(Site.SUPERIOR, 90.0, ())
    long = dataclasses.replace(cut, chosen=dataclasses.replace(cut.chosen, length_mm=20.0))
    with pytest.raises(ImpossibleInputError, match="20 mm"):
        eye_drawing(side=Side.RIGHT, wound=long, belief=BELIEF, ident="eye")


def test_a_large_wound_round_the_limbus_is_drawn_though_it_is_longer_than_the_cornea_is_wide() -> None:
    """An intracapsular wound of 12 mm on a cornea of 11.6 mm follows the limbus; half the way round is the most."""
    round_limbus = dataclasses.replace(
        wound(Site.SUPERIOR, 90.0, ()).chosen, shape=WoundShape.SMILE, length_mm=12.0, limbus_distance_mm=0.0
    )
    outline = cut_outline(option=round_limbus, side=Side.RIGHT, limbus_radius_mm=5.8)
    assert all(math.hypot(*point) == pytest.approx(5.8) for point in outline.outer)
    with pytest.raises(ImpossibleInputError):
        cut_outline(option=dataclasses.replace(round_limbus, length_mm=18.3), side=Side.RIGHT, limbus_radius_mm=5.8)


def test_an_unknown_corneal_diameter_is_said_and_not_scaled() -> None:
    """NaN draws a nominal eye with the words not to scale and no scale bar."""
    belief = dataclasses.replace(BELIEF, white_to_white_mm=Estimate(math.nan, math.nan, 0, "nothing"))
    told = eye_drawing(side=Side.RIGHT, wound=None, belief=belief, ident="eye")
    assert "Not to scale" in told
    assert "5 mm." not in told


def test_drawings_obey_a_strict_content_security_policy(plan: object) -> None:
    """No style, script, event attribute or outside reference; the only colour names are greys and ink."""
    for eye in sample_plan().eyes:
        drawing = eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident=eye.key)
        for banned in ("style=", "<style", "<script", "href", " on", "url("):
            assert banned not in re.sub(r">[^<]*<", "><", drawing)


def test_ids_are_unique_when_several_eyes_share_a_page() -> None:
    """Every id starts with the eye's key, and the drawing points to its own title and description."""
    eyes: tuple[EyePlan, ...] = sample_plan().eyes
    drawings = [ET.fromstring(eye_drawing(side=e.side, wound=e.wound, belief=e.belief, ident=e.key)) for e in eyes]
    ids = [node.attrib["id"] for drawing in drawings for node in drawing.iter() if "id" in node.attrib]
    assert len(ids) == len(set(ids)) == 2 * len(eyes)
    for drawing in drawings:
        assert drawing.attrib["role"] == "img"
        assert set(drawing.attrib["aria-labelledby"].split()) <= set(ids)


def test_words_stay_inside_the_picture() -> None:
    """No word begins or ends outside the view box, by a cautious width of 0.62 em a letter."""
    for eye in sample_plan().eyes:
        drawing = ET.fromstring(eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident="e"))
        width = float(drawing.attrib["viewBox"].split()[2])
        for node in drawing.iter(f"{SVG}text"):
            x, reach = float(node.attrib["x"]), 0.62 * float(node.attrib["font-size"]) * len(node.text or "")
            shift = {"start": 0.0, "middle": -reach / 2, "end": -reach}[node.attrib["text-anchor"]]
            assert x + shift >= -1
            assert x + shift + (0 if node.attrib["class"] == "eye-legend" else reach) <= width + 1


@pytest.mark.parametrize("kind", MarkKind)
@pytest.mark.parametrize("side", Side)
def test_a_mark_lies_at_its_clock_hour_and_is_told(kind: MarkKind, side: Side) -> None:
    """At 12 o'clock, seen from the head of the table, word and shape lie at the bottom, at the side of BROW."""
    drawing = eye_drawing(side=side, wound=None, belief=BELIEF, ident="e", marks=(EyeMark(kind, 90.0),))
    tree = ET.fromstring(drawing)
    word = next(node for node in tree.iter(f"{SVG}text") if node.attrib["class"] == "eye-mark-word")
    assert where(float(word.attrib["x"]) - CENTRE[0], CENTRE[1] - float(word.attrib["y"]) + 5) == "bottom"
    told = eye_description(side=side, wound=None, belief=BELIEF, marks=(EyeMark(kind, 90.0),))
    assert f"{kind.value[:1].upper()}{kind.value[1:]} at 12 o'clock (90°)." in told
    assert told in "".join(node.text or "" for node in tree.iter(f"{SVG}desc"))
    assert eye_drawing(side=side, wound=None, belief=BELIEF, ident="e").count("eye-mark-word") == 0


def test_every_kind_of_mark_has_its_own_shape() -> None:
    """In black and white the shapes differ, so that the word is not the only sign."""
    drawn = {
        kind: re.sub(r"<text.*?</text>", "", eye_drawing(
            side=Side.RIGHT, wound=None, belief=BELIEF, ident="e", marks=(EyeMark(kind, 40.0),), legend=False))
        for kind in MarkKind
    }  # fmt: skip
    bare = [re.sub(r"<desc.*?</desc>", "", picture) for picture in drawn.values()]
    assert len(set(bare)) == len(MarkKind)


@pytest.mark.parametrize(("meridian", "meets"), [(90.0, True), (123.0, True), (125.0, False), (270.0, False)])
def test_a_bleb_between_the_ends_of_the_cut_is_called_in_the_way(meridian: float, meets: bool) -> None:
    """A 6.5 mm cut 7.35 mm from the centre spans 24 degrees each way, a mark 10; fibrosis is never in its way."""
    cut = wound(Site.SUPERIOR, 90.0, ())
    told = eye_description(side=Side.RIGHT, wound=cut, belief=BELIEF, marks=(EyeMark(MarkKind.BLEB, meridian),))
    assert ("IN THE WAY OF THE PLANNED CUT" in told) is meets
    inside = eye_description(side=Side.RIGHT, wound=cut, belief=BELIEF, marks=(EyeMark(MarkKind.FIBROSIS, meridian),))
    assert "IN THE WAY" not in inside


def test_a_mark_without_an_hour_is_written_not_guessed() -> None:
    """No shape is drawn; drawing, legend and description say that the hour is not recorded."""
    marks = (EyeMark(MarkKind.BLEB, None), EyeMark(MarkKind.VESSELS, None))
    drawing = eye_drawing(side=Side.LEFT, wound=None, belief=BELIEF, ident="e", marks=marks)
    assert 'class="eye-bleb"' not in drawing
    assert "BLEB: hour not recorded" in drawing
    assert "Vessels: clock hour not recorded." in eye_description(
        side=Side.LEFT, wound=None, belief=BELIEF, marks=marks
    )


def test_a_mark_outside_the_circle_is_refused() -> None:
    """400 degrees is no meridian."""
    with pytest.raises(ImpossibleInputError, match="400"):
        EyeMark(MarkKind.BLEB, 400.0)


def test_without_a_legend_the_drawing_is_the_same_and_shorter() -> None:
    """The legend stands below: nothing above it moves, and the text alternative is the same."""
    eye = sample_plan().eyes[0]
    full = ET.fromstring(eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident="e"))
    bare = ET.fromstring(eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident="e", legend=False))
    kept = [ET.tostring(node) for node in full if node.attrib.get("class") not in {"eye-legend", "eye-scale"}]
    assert kept == [ET.tostring(node) for node in bare]
    assert float(bare.attrib["viewBox"].split()[3]) < float(full.attrib["viewBox"].split()[3])


def test_no_line_of_the_legend_runs_out_of_the_picture() -> None:
    """With the longest origin that a belief has, at a usual 0.54 em a letter."""
    origin = "population, with this eye's other readings"
    belief = dataclasses.replace(BELIEF, white_to_white_mm=Estimate(11.61, 0.4, 0, origin))
    marks = (EyeMark(MarkKind.FIBROSIS, 300.0), EyeMark(MarkKind.PTERYGIUM, 90.0))
    cut = wound(Site.SUPERIOR, 90.0, ())
    drawing = ET.fromstring(eye_drawing(side=Side.RIGHT, wound=cut, belief=belief, ident="e", marks=marks))
    width, height = (float(part) for part in drawing.attrib["viewBox"].split()[2:])
    for node in drawing.iter(f"{SVG}text"):
        if node.attrib["class"] == "eye-legend":
            reach = 0.54 * float(node.attrib["font-size"]) * len(node.text or "")
            assert float(node.attrib["x"]) + reach <= width
            assert float(node.attrib["y"]) <= height


def test_the_word_of_a_mark_keeps_clear_of_the_ports() -> None:
    """A pterygium at a side port: the word stands well off the word of the port, the shape at its true place."""
    cut = wound(Site.SUPERIOR, 90.0, (0.0, 180.0))
    drawing = ET.fromstring(
        eye_drawing(side=Side.LEFT, wound=cut, belief=BELIEF, ident="e", marks=(EyeMark(MarkKind.PTERYGIUM, 180.0),))
    )
    port = max((n for n in drawing.iter(f"{SVG}text") if n.text == "port"), key=lambda node: float(node.attrib["x"]))
    word = next(node for node in drawing.iter(f"{SVG}text") if node.text == "PTERYGIUM")
    assert abs(float(word.attrib["y"]) - float(port.attrib["y"])) > 14
    corners = points(drawing, "eye-pterygium")
    assert corners[1][1] == pytest.approx(0.0, abs=0.01)


def test_what_a_plan_says_lies_in_the_way_is_marked_on_screen_and_paper() -> None:
    """The register says that there is a bleb, not where: the drawing says both."""
    eye = sample_plan().eyes[0]
    assert marks_of(eye) == ()
    nucleus = NucleusBelief(7.1, 0.6, 3.0, 0.3, 0.0, "grade not known", "nucleus130", Basis.PUBLISHED)
    grounds = CutGrounds(0.5, 0.0, 0.01, 0.01, 0.0, nucleus, (), (), bleb=True, fibrosed_capsule=True)
    told = dataclasses.replace(eye, cut_grounds=grounds)
    assert [mark.kind for mark in marks_of(told)] == [MarkKind.BLEB, MarkKind.FIBROSIS]
    paper = drawing_data(told)
    assert "BLEB: hour not recorded" in paper["svg"]
    assert "Filtering bleb: clock hour not recorded." in paper["alt"]


def test_a_long_origin_goes_on_in_the_next_line_of_the_legend() -> None:
    """No line below the drawing is longer than it has room for, and no word is lost."""
    eye = sample_plan().eyes[0]
    long = "population, with this eye's other readings and those of the fellow eye by two observers on two days"
    belief = dataclasses.replace(
        eye.belief, white_to_white_mm=dataclasses.replace(eye.belief.white_to_white_mm, origin=long)
    )
    rows = legend_rows(eye.wound, belief, (), 6.0)
    assert max(len(row) for row in rows) <= 62
    assert long in " ".join(row.strip() for row in rows)
