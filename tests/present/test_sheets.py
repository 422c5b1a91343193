"""The printed sheets say who, which side and which lens, page by page."""

import dataclasses
import io
import re
import unicodedata

import pytest
from pypdf import PdfReader

from sample_plan import BENGALI_NAME, DEVANAGARI_NAME, sample_plan
from sideport.day.plan import DayPlan
from sideport.errors import ImpossibleInputError
from sideport.knowledge import Basis, Flag, Severity
from sideport.optics.side import Side
from sideport.present import numbers, sheets
from sideport.present.caution import CAUTION
from sideport.present.fonts import FONT_FAMILIES, font_folders, sheet_fonts
from sideport.present.sheets import day_pdf, eye_pdf


def pages(pdf: bytes) -> list[str]:
    """Text of each page with all white space as single spaces."""
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages]


def spans(pdf: bytes, page: int) -> list[str]:
    """The text that the file states for clusters of letters drawn as one shape (ActualText), in reading order."""
    content = PdfReader(io.BytesIO(pdf)).pages[page].get_contents()
    assert content is not None
    found = re.findall(rb"/ActualText<FEFF([0-9A-F]+)>", content.get_data())
    return [bytes.fromhex(hexes.decode()).decode("utf-16-be") for hexes in found]


def squeezed(words: str) -> str:
    """Without white space: line breaks inside a name do not matter."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFC", words))


def test_there_is_one_page_an_eye_with_who_side_and_lens(plan: DayPlan, eye_sheets: bytes) -> None:
    """Name, identity, side, signed power with place, and the caution stand on every page, in plan order."""
    told = pages(eye_sheets)
    assert len(told) == len(plan.eyes)
    for number, (eye, page) in enumerate(zip(plan.eyes, told, strict=True), start=1):
        assert squeezed(eye.name) in squeezed(page) or not eye.name.isascii()
        assert eye.person_id in page
        assert f"{eye.side.name} EYE" in page
        assert f"{eye.side.other.name} EYE" not in page
        for lens, place in ((eye.lens, "BAG"), (eye.backup, "SULCUS")):
            if lens:
                assert f"{numbers.power(lens.power_d)}{place}".replace("\u00a0", "") in squeezed(page)
        assert squeezed(CAUTION) in squeezed(page)
        assert f"Page {number} of {len(plan.eyes)}" in page
        assert "5a5a5a5a5a5a" in page


def test_the_list_has_every_listed_eye_with_side_and_signed_powers(plan: DayPlan, day_sheet: bytes) -> None:
    """One line an eye; the minus lens keeps its minus; the off-list eyes have their reason."""
    told = " ".join(pages(day_sheet))
    for eye in plan.eyes:
        assert squeezed(eye.name) in squeezed(told) or not eye.name.isascii()
        assert eye.person_id in told
        if eye.off_list:
            assert eye.off_list in told
    assert "−2.0D BAG".replace(" ", "") in squeezed(told)
    assert squeezed("−3.0 D SULCUS") in squeezed(told)
    assert told.count("RIGHT") >= 3
    assert told.count("LEFT") >= 3
    for words in ("ONLY SEEING EYE", "NO LENS", "NO BACKUP", "NOBODY YET", "Sort out tonight", "STOP", "no price"):
        assert words in told


@pytest.mark.parametrize(("name", "page"), [(BENGALI_NAME, 1), (DEVANAGARI_NAME, 3)])
def test_names_in_other_scripts_keep_their_letters(name: str, page: int, eye_sheets: bytes) -> None:
    """Clusters stand in the order of the name; every letter of the name is on the page."""
    at = 0
    rest = ""
    for cluster in spans(eye_sheets, page):
        found = name.index(cluster, at)
        rest += name[at:found]
        at = found + len(cluster)
    rest += name[at:]
    assert len(rest) < len(name) / 2
    assert set(name) <= set(PdfReader(io.BytesIO(eye_sheets)).pages[page].extract_text())


def test_what_is_missing_is_said(eye_sheets: bytes) -> None:
    """The eye without age, sex, acuity and readings says so in words."""
    page = pages(eye_sheets)[5]
    for words in ("age not known", "sex not known", "acuity not known", "None recorded", "population only"):
        assert words in page


def test_a_stopped_eye_cannot_be_overlooked(eye_sheets: bytes) -> None:
    """The stop stands above the measurements with what to do."""
    page = pages(eye_sheets)[6]
    assert page.index("STOP.") < page.index("Measurements as written")
    assert "NOT ON THE LIST" in page


def test_an_overfull_eye_still_takes_one_page_and_loses_nothing(plan: DayPlan) -> None:
    """Forty long flags shrink the type; every one of them is on the page."""
    flags = tuple(
        Flag(f"flag-{n}", Severity.WARN, f"Finding number {n} of a very long series of findings in this eye.",
             "Measure it once more with another method.", "practice", Basis.COMMON_PRACTICE)
        for n in range(40)
    )  # fmt: skip
    crowded = dataclasses.replace(plan, eyes=(dataclasses.replace(plan.eyes[0], flags=flags), plan.eyes[1]))
    told = pages(eye_pdf(crowded))
    assert len(told) == 2
    assert all(f"Finding number {n} of" in told[0] for n in range(40))
    assert "What really happened" in told[0]


def test_what_to_sort_out_names_the_eye_it_concerns(day_sheet: bytes) -> None:
    """Each item names person and side as the list does, or the day."""
    page = pages(day_sheet)[1]
    tonight = squeezed(page[page.index("Sort out tonight") : page.index("Not on the list")])
    assert "QI-107RIGHTJuniperVale,righteye" in tonight
    assert "QI-105RIGHTNolensontheshelf" in tonight
    assert "ThedayNoprice" in tonight


def test_the_same_plan_gives_the_same_bytes(plan: DayPlan, day_sheet: bytes, eye_sheets: bytes) -> None:
    """Neither clock nor chance nor the machine's fonts enter."""
    assert day_pdf(plan) == day_sheet
    assert eye_pdf(plan) == eye_sheets


def test_the_pdfs_are_titled_dated_by_the_plan_and_tagged(day_sheet: bytes, eye_sheets: bytes) -> None:
    """Accessible PDF needs a title, a language and tags."""
    for pdf in (day_sheet, eye_sheets):
        reader = PdfReader(io.BytesIO(pdf))
        assert reader.metadata is not None
        assert "Quill Island Eye Unit, Tuesday 4 March 2031" in str(reader.metadata.title)
        assert reader.metadata.creation_date is not None
        assert reader.metadata.creation_date.date() == sample_plan().day
        root = reader.trailer["/Root"]
        assert root["/Lang"] == "en"
        assert root["/MarkInfo"]["/Marked"]


def test_text_in_a_record_cannot_command_the_typesetter(plan: DayPlan) -> None:
    """A name full of markup is printed as it stands."""
    name = '#panic("x") *b* $1$ \\ "quoted" <tag> @ref {{x}}'
    marked = dataclasses.replace(plan, eyes=(dataclasses.replace(plan.eyes[0], name=name),))
    assert squeezed(name) in squeezed(pages(eye_pdf(marked))[0])
    assert squeezed(name) in squeezed(pages(day_pdf(marked))[0])


def test_a_cut_on_the_wrong_eye_is_never_printed(plan: DayPlan) -> None:
    """The sheet of a plan whose side and cut disagree is refused."""
    temporal_left = plan.eyes[1]
    swapped = dataclasses.replace(plan, eyes=(dataclasses.replace(temporal_left, side=Side.RIGHT),))
    with pytest.raises(ImpossibleInputError, match="right and left"):
        eye_pdf(swapped)


def test_an_empty_day_prints() -> None:
    """No eye: a list that says so."""
    empty = dataclasses.replace(sample_plan(), eyes=(), tonight=(), kit=(), cost=(), finishes=None)
    assert "No eye is on the list" in pages(day_pdf(empty))[0]


def test_fonts_come_with_the_program() -> None:
    """Every family is found in its folder, so no machine font is needed."""
    assert all(any(folder.glob("*.ttf")) for folder in font_folders())
    assert set(FONT_FAMILIES) <= set(sheet_fonts().families())


def test_templates_are_part_of_the_package() -> None:
    """Both sheets find their template beside the code."""
    for name in ("day.typ", "eyes.typ"):
        assert b"#set page" in sheets.template_source(name)
