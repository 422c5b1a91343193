"""One cell: what people write, what it means, and what is set aside with which words."""

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.exchange.catalogue import column_by_heading, setting_by_name, tables
from sideport.exchange.cells import PARSERS, parse_cell
from sideport.exchange.columns import Kind, Table
from sideport.exchange.figures import CellError, Keratometry, parse_keratometry, parse_number
from sideport.eye.measurement import Method
from sideport.eye.person import Cataract
from sideport.lens.model import Placement
from sideport.optics.side import Side


def register(heading: str, text: str) -> object:
    return parse_cell(column_by_heading(Table.REGISTER)[heading], text)


def shelf(heading: str, text: str) -> object:
    return parse_cell(column_by_heading(Table.SHELF)[heading], text)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("23.5", 23.5), ("23,5", 23.5), ("23.50 mm", 23.5), ("২৩.৫", 23.5), ("२३,५", 23.5), ("23,456", 23.456),
        (" 23.5mm ", 23.5), ("+23.5", 23.5),
    ],
)  # fmt: skip
def test_a_length_reads_with_either_decimal_sign_any_digits_and_its_unit(text: str, value: float) -> None:
    assert register("al", text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("NS 3", 3.0), ("NS3", 3.0), ("ns-iii", None), ("NO3", 3.0), ("NO 4,5", 4.5), ("3+", 3.0), ("NS 3+", 3.0),
        ("LOCS III NO 4.5", 4.5), (".5", 0.5), ("grade: 2", 2.0), ("-3", None),
    ],
)  # fmt: skip
def test_a_nucleus_grade_reads_as_surgeons_write_it(text: str, value: float | None) -> None:
    """A plus adds nothing; Roman figures and negative grades are refused."""
    if value is None:
        with pytest.raises(CellError):
            register("nucleus grade", text)
    else:
        assert register("nucleus grade", text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("1,234", 1234.0), ("1,00,000", 100000.0), ("1.234,50", 1234.5), ("₹ 90", 90.0), ("90/-", 90.0), ("৳৪৫০", 450.0)],
)
def test_money_reads_with_thousands_and_signs(text: str, value: float) -> None:
    assert shelf("price", text) == value


@pytest.mark.parametrize(
    ("heading", "text", "part_of_why"),
    [
        ("al", "2.35", "looks like centimetres; write 23.5"),
        ("al", "2.35 cm", "'cm' behind the figure"),
        ("al", "2350", "missing decimal point; if so write 23.5"),
        ("al", "-23.5", "negative"),
        ("al", "23.5.1", "more than one decimal point"),
        ("al", "23..5", "more than one decimal point"),
        ("al", "about 23", "not a figure"),
        ("al", "55", "outside"),
        ("k1", "20", "neither a corneal power nor a radius"),
        ("k1", "435", "missing decimal point; if so write 43.5"),
        ("k1", "43.5 mm", "neither a corneal power nor a radius"),
        ("k1", "7.7 D", "neither a corneal power nor a radius"),
        ("k1 axis", "190", "outside"),
        ("eye", "both", "both eyes"),
        ("eye", "B/E", "both eyes"),
        ("eye", "up", "not a side"),
        ("diabetic", "type 2 on tablets", "neither yes nor no"),
        ("nucleus grade", "C3", "not a LOCS III"),
        ("nucleus grade", "7", "outside"),
        ("va", "2026-06-12", "turned it into a date"),
        ("age", "-5", "negative"),
        ("date of birth", "31/02/1960", "not a date"),
        ("date of birth", "12/25/1960", "not a date"),
    ],
)
def test_what_cannot_be_read_says_why(heading: str, text: str, part_of_why: str) -> None:
    with pytest.raises(CellError) as caught:
        register(heading, text)
    assert part_of_why in caught.value.why
    assert caught.value.accepted


@pytest.mark.parametrize(
    ("heading", "text"), [("power", "-10.5"), ("power", "46"), ("qty", "-1"), ("price", "-90"), ("qty", "1.5")]
)
def test_the_shelf_takes_no_impossible_power_count_or_price(heading: str, text: str) -> None:
    with pytest.raises(CellError):
        shelf(heading, text)


@pytest.mark.parametrize(
    ("text", "value"), [("-2.0", -2.0), ("−2", -2.0), ("+21.5 D", 21.5), ("21", 21.0), ("-10", -10.0), ("45", 45.0)]
)
def test_a_lens_power_keeps_its_sign(text: str, value: float) -> None:
    assert shelf("power", text) == value


@pytest.mark.parametrize("text", ["R", "re", "O.D.", "Right", "right eye", "ডান", "दायां", "RT"])
def test_right_in_many_words(text: str) -> None:
    assert register("eye", text) is Side.RIGHT


@pytest.mark.parametrize("text", ["L", "le", "OS", "Left eye", "বাম", "बायां"])
def test_left_in_many_words(text: str) -> None:
    assert register("eye", text) is Side.LEFT


@pytest.mark.parametrize(
    ("text", "value"),
    [("yes", True), ("+", True), ("+ve", True), ("Y", True), ("হ্যাঁ", True), ("no", False), ("-", False), ("–", False),
     ("-ve", False), ("নেই", False), ("नहीं", False), ("?", None), ("", None), ("unknown", None)],
)  # fmt: skip
def test_yes_no_and_not_known_stay_three_things(text: str, value: bool | None) -> None:
    assert register("diabetic", text) is value


@pytest.mark.parametrize(
    ("text", "value"),
    [("43.5", Keratometry(43.5, False, None)), ("7,76 mm", Keratometry(7.76, True, None)),
     ("7.76", Keratometry(7.76, True, None)),
     ("43.5 @ 90", Keratometry(43.5, False, 90.0)), ("43.25x180", Keratometry(43.25, False, 180.0)),
     ("44 D", Keratometry(44.0, False, None))],
)  # fmt: skip
def test_keratometry_in_either_unit_with_its_axis(text: str, value: Keratometry) -> None:
    assert parse_keratometry(text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("2026-12-01", date(2026, 12, 1)), ("1/12/2026", date(2026, 12, 1)), ("01.12.26", date(2026, 12, 1)),
     ("Tuesday 1 December 2026", date(2026, 12, 1)), ("46357", date(2026, 12, 1)),
     ("2026-12-01 00:00:00", date(2026, 12, 1)),
     ("১/১২/২০২৬", date(2026, 12, 1)), ("1st Dec 2026", date(2026, 12, 1))],
)  # fmt: skip
def test_the_day_comes_before_the_month(text: str, value: date) -> None:
    assert parse_cell(setting_by_name()["day"], text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("2027-05", date(2027, 5, 31)), ("05/2027", date(2027, 5, 31)), ("02/28", date(2028, 2, 29)),
     ("Feb 2028", date(2028, 2, 29)),
     ("31.08.2028", date(2028, 8, 31))],
)  # fmt: skip
def test_an_expiry_month_lasts_to_its_last_day(text: str, value: date) -> None:
    assert shelf("expiry", text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("08:00", time(8)), ("8.30", time(8, 30)), ("4 pm", time(16)), ("12:05 am", time(0, 5)), ("0800", time(8))],
)
def test_times_of_day(text: str, value: time) -> None:
    assert parse_cell(setting_by_name()["start"], text) == value


def test_words_of_the_trade_mean_what_they_say() -> None:
    assert register("cataract", "Morgagnian") is Cataract.HYPERMATURE
    assert register("cataract", "mature") is Cataract.WHITE
    assert register("al method", "A-scan") is Method.CONTACT_ULTRASOUND
    assert parse_cell(column_by_heading(Table.LENSES)["placement"], "bag & sulcus") == {Placement.BAG, Placement.SULCUS}
    assert parse_cell(column_by_heading(Table.LENSES)["foldable"], "rigid") is False
    assert parse_cell(setting_by_name()["capsule tear rate"], "1.9 %") == pytest.approx(0.019, rel=1e-12)


@given(st.sampled_from(sorted(PARSERS, key=lambda kind: kind.value)), st.text(max_size=40))
def test_any_text_is_a_value_or_a_cell_error(kind: Kind, text: str) -> None:
    settings = setting_by_name().values()
    columns = [column for spec in tables().values() for column in spec.columns]
    column = next(column for column in (*columns, *settings) if column.kind is kind)
    try:
        parse_cell(column, text.strip())
    except CellError as error:
        words = (error.why, error.accepted)
        assert all(words)


@given(st.floats(min_value=-1e6, max_value=1e6))
def test_a_figure_reads_back_with_point_or_comma(value: float) -> None:
    """Fixed-point text with four decimals is the same number whichever decimal sign it carries."""
    text = f"{value:.4f}"
    assert parse_number(text) == float(text)
    assert parse_number(text.replace(".", ",")) == float(text)


def test_every_synonym_means_one_column_only() -> None:
    """Within a table no heading is claimed by two columns, but for keys that another column's heading repeats."""
    for spec in tables().values():
        claims: dict[str, str] = {}
        for column in spec.columns:
            for heading in (column.heading, *column.synonyms):
                word = " ".join(heading.casefold().split())
                assert claims.setdefault(word, column.key) == column.key, f"{spec.table}: {heading}"


def test_every_example_in_the_catalogue_can_be_read() -> None:
    for column in (column for spec in tables().values() for column in spec.columns):
        assert not column.example or parse_cell(column, column.example) is not None
