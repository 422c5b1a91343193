"""The patient's slip in every language: one page, the right eye, every word translated, marked until it is checked."""

import ast
import gettext
import io
import re
import unicodedata
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest
from pypdf import PdfReader

from sideport.errors import ImpossibleInputError
from sideport.optics.side import Side
from sideport.present import slip as module
from sideport.present.slip import UNCHECKED, Drop, Slip, languages, slip_data, slip_pdf

CODES = [language.code for language in languages()]
DROPS = tuple(Drop(f"Bottle {letter}", 4, 28) for letter in "ABCD")
SCRIPTS = {"en": "LATIN", "bn": "BENGALI", "hi": "DEVANAGARI"}


def slip(language: str, side: Side = Side.RIGHT, **change: object) -> Slip:
    plain = {
        "language": language, "unit": "Quill Island Eye Unit", "person_id": "QI-101", "name": "শিউলি নদী", "side": side,
        "operated": date(2031, 3, 4), "printed": date(2031, 3, 5), "author": "मीरा घाट", "drops": DROPS,
        "comes_back": date(2031, 3, 11), "phone": "0123 456 789",
    }  # fmt: skip
    return Slip(**(plain | change))  # type: ignore[arg-type]


def texts(value: object) -> list[str]:
    """Every text in a tree of data."""
    if isinstance(value, dict):
        return [text for item in value.values() for text in texts(item)]
    if isinstance(value, list | tuple):
        return [text for item in value for text in texts(item)]
    return [value] if isinstance(value, str) else []


def said_in_code() -> set[str]:
    """The words that the module asks its catalogue for."""
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    calls = (node for node in ast.walk(tree) if isinstance(node, ast.Call) and ast.unparse(node.func) == "say")
    return {str(ast.literal_eval(call.args[0])) for call in calls}


def catalogue(code: str, ending: str) -> bytes:
    return files("sideport").joinpath("locale", code, "LC_MESSAGES", f"slip.{ending}").read_bytes()


def written(code: str) -> dict[str, str]:
    """The pairs of the readable catalogue; its words stand on one line each."""
    found = re.findall(r'^msgid "(.*)"\nmsgstr "(.*)"$', catalogue(code, "po").decode(), re.M)
    return {msgid: msgstr for msgid, msgstr in found if msgid}


def compiled(code: str) -> dict[str, str]:
    told = gettext.GNUTranslations(io.BytesIO(catalogue(code, "mo")))
    return {key: value for key, value in told._catalog.items() if key}  # type: ignore[attr-defined]


def test_there_is_english_bengali_and_hindi() -> None:
    assert {"en", "bn", "hi"} <= set(CODES)
    assert CODES[0] == "en"


@pytest.mark.parametrize("code", CODES)
def test_a_catalogue_says_every_word_of_the_slip_and_no_other(code: str) -> None:
    assert set(written(code)) == said_in_code()
    assert all(written(code).values())
    assert "fuzzy" not in catalogue(code, "po").decode()


@pytest.mark.parametrize("code", CODES)
def test_the_compiled_catalogue_is_the_readable_one(code: str) -> None:
    assert compiled(code) == written(code), f"compile it: msgfmt --output-file=slip.mo slip.po in locale/{code}"


@pytest.mark.parametrize("code", ["bn", "hi"])
def test_every_word_of_a_language_is_in_its_own_script(code: str) -> None:
    for msgid, msgstr in written(code).items():
        bare = re.sub(r"\{\w+\}", "", msgstr)
        letters = {unicodedata.name(sign).split()[0] for sign in bare if sign.isalpha()}
        assert letters <= {SCRIPTS[code]}, msgid
    assert set(re.findall(r"\{\w+\}", written(code)["{weekday}, {day} {month} {year}"])) == {
        "{weekday}", "{day}", "{month}", "{year}",
    }  # fmt: skip
    assert len(written(code)["0123456789"]) == 10
    assert [int(sign) for sign in written(code)["0123456789"]] == list(range(10))


@pytest.mark.parametrize("code", CODES)
def test_weekdays_months_and_sides_are_all_different(code: str) -> None:
    table = written(code)
    weekdays = [table[day] for day in ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")]
    assert len(set(weekdays)) == 7
    assert table["Your RIGHT eye was operated on."] != table["Your LEFT eye was operated on."]


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("side", Side)
def test_a_full_slip_is_one_page_with_its_own_side_alone(code: str, side: Side) -> None:
    (page,) = PdfReader(io.BytesIO(slip_pdf(slip(code, side)))).pages
    words = page.extract_text()
    other = Side.LEFT if side is Side.RIGHT else Side.RIGHT
    assert side.value.upper() in words
    assert other.value.upper() not in words
    assert "QI-101" in words
    assert "0123 456 789" in words


@pytest.mark.parametrize("code", CODES)
def test_an_empty_slip_is_one_page_with_lines_to_write_on(code: str) -> None:
    empty = slip(code, drops=(), comes_back=None, phone="")
    assert slip_data(empty)["drops"]["rows"] == []
    assert len(PdfReader(io.BytesIO(slip_pdf(empty))).pages) == 1


@pytest.mark.parametrize("code", CODES)
def test_until_a_fluent_reader_has_checked_it_the_slip_says_so(code: str) -> None:
    checked = next(language.checked_by for language in languages() if language.code == code)
    assert (slip_data(slip(code))["unchecked"] == UNCHECKED) == (not checked)
    assert slip_data(slip(code))["staff"].startswith("For staff: the wording is common practice")


def test_the_return_day_is_told_in_the_language_and_plainly_for_staff() -> None:
    """11 March 2031 is a Tuesday."""
    assert slip_data(slip("bn"))["return"]["day"] == "মঙ্গলবার, ১১ মার্চ ২০৩১"
    assert slip_data(slip("hi"))["return"]["day"] == "मंगलवार, ११ मार्च २०३१"
    assert slip_data(slip("hi"))["return"]["plain"] == "Tuesday 11 March 2031"
    assert slip_data(slip("en"))["return"]["day"] == "Tuesday, 11 March 2031"


def test_the_same_slip_gives_the_same_bytes() -> None:
    assert slip_pdf(slip("bn")) == slip_pdf(slip("bn"))


def test_what_a_patient_is_called_cannot_act_as_a_command() -> None:
    hostile = slip("en", name='#panic("x") *a* $x$', drops=(Drop("#read(1)", 1, 1),))
    (page,) = PdfReader(io.BytesIO(slip_pdf(hostile))).pages
    assert '#panic("x") *a* $x$' in page.extract_text()


@pytest.mark.parametrize("code", ["xx", "", "../en", "en/../bn"])
def test_a_language_without_a_catalogue_is_refused(code: str) -> None:
    with pytest.raises(ImpossibleInputError, match="Choose one that has a catalogue"):
        slip_pdf(slip(code))


def test_no_word_of_the_slip_is_left_in_english() -> None:
    for code in ("bn", "hi"):
        data = slip_data(slip(code))
        shown = [data[name] for name in ("heading", "eye", "drops", "signs", "care")] + [data["return"]["bring"]]
        for text in texts(shown):
            assert not re.search(r"[A-Za-z]", text.replace("Bottle", "").strip(" ABCD")), text
