"""Codes on lens boxes: published strings, their check characters, misreadings, pictures and hostile files."""

import io
import struct
import zlib
from datetime import date

import numpy as np
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from sideport.exchange.barcodes import (
    LARGEST_PICTURE_BYTES,
    CodeError,
    codes_in_picture,
    read_code,
    read_codes,
)
from sideport.exchange.hibc import CHARACTERS, MisreadError, check_character, read_hibc

# The device regulator's example of a GS1 identifier, and examples of ANSI/HIBC 2.4 and 2.6; the last is the example
# of the FHIR device profile. Each string carries its own check digit or character.
GS1 = "0151022222233336" + "11141231" + "17150707" + "10A213B1\x1d" + "211234"
BRACKETED = "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234"
BOTH = "+A99912345/$$52001510X33"
MORE = "+A99912345/$$52001510X3/16D20111212/S77DEFG457"
FHIR = "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ4567890123 45678/16D20130202C"


@pytest.mark.parametrize("shown", ["\x1d", "␝", "<GS>", "{gs}"])
def test_the_regulators_gs1_example_reads_as_printed(shown: str) -> None:
    label = read_code(GS1.replace("\x1d", shown))
    assert (label.product, label.lot, label.serial) == ("51022222233336", "A213B1", "1234")
    assert (label.made, label.expires) == (date(2014, 12, 31), date(2015, 7, 7))
    assert label.otherwise == ()


def test_a_gs1_code_reads_the_same_in_brackets_and_with_a_symbology_mark() -> None:

    names = ("product", "lot", "serial", "expires", "made")
    for other in (BRACKETED, "]d2" + GS1, "]C1" + GS1):
        assert all(getattr(read_code(other), name) == getattr(read_code(GS1), name) for name in names), other


def test_a_day_of_00_is_the_last_of_its_month() -> None:
    """GS1 General Specifications, 3.4.7: with the day 00 the date is the last day of the month."""
    assert read_code("(01)51022222233336(17)320200(10)A").expires == date(2032, 2, 29)


@pytest.mark.parametrize("code", ["+A123BJC5D6E71G", BOTH, MORE, FHIR])
def test_published_hibc_strings_carry_the_check_character_that_is_computed(code: str) -> None:
    assert check_character(code[:-1]) == code[-1]


def test_published_hibc_examples_read_as_the_standard_says() -> None:
    both, more, fhir = read_code(BOTH), read_code(MORE), read_code(FHIR)
    assert (both.product, both.lot, both.expires) == ("A99912345", "10X3", date(2020, 1, 15))
    assert (more.lot, more.serial, more.made) == ("10X3", "77DEFG45", date(2011, 12, 12))
    assert (fhir.lot, fhir.serial) == ("LOT123456789012345", "XYZ4567890123 45678")
    assert (fhir.expires, fhir.made) == (date(2020, 2, 2), date(2013, 2, 2))


@pytest.mark.parametrize(
    ("reference", "expires", "lot", "serial"),
    [
        ("$L7", None, "L7", ""),
        ("$+S7", None, "", "S7"),
        ("$$0931L7", date(2031, 9, 30), "L7", ""),
        ("$$2090331L7", date(2031, 9, 3), "L7", ""),
        ("$$3310903L7", date(2031, 9, 3), "L7", ""),
        ("$$431090316L7", date(2031, 9, 3), "L7", ""),
        ("$$531246L7", date(2031, 9, 3), "L7", ""),
        ("$$63124616L7", date(2031, 9, 3), "L7", ""),
        ("$$7L7", None, "L7", ""),
        ("$$8013310903L7", date(2031, 9, 3), "L7", ""),
        ("$$9000013310903L7", date(2031, 9, 3), "L7", ""),
        ("$$+3310903S7", date(2031, 9, 3), "", "S7"),
        ("31246L7", date(2031, 9, 3), "L7", ""),
    ],
)
def test_every_form_of_the_second_part(reference: str, expires: date | None, lot: str, serial: str) -> None:
    """One row a form of the secondary data structure; the day is 3 September 2031, day 246 of its year."""
    body = f"+A99912345/{reference}"
    said = read_hibc(body + check_character(body))
    assert (said.expires, said.lot, said.serial) == (expires, lot, serial)


def half(text: str) -> str:
    """A code with its check character."""
    return text + check_character(text)


def test_two_halves_of_one_box_make_one_label_and_halves_of_two_boxes_none() -> None:
    first = half("+A99912345")
    second = half("+$$3310903L7" + first[-1])
    label = read_codes([first, second])
    assert (label.product, label.lot, label.expires) == ("A99912345", "L7", date(2031, 9, 3))
    assert read_codes([second, first]).lot == "L7"
    with pytest.raises(CodeError, match="does not belong"):
        read_codes([half("+A99912355"), second])
    with pytest.raises(CodeError, match="two different boxes"):
        read_codes([BOTH, half("+A99912345/$OTHER")])


@given(at=st.integers(1, len(BOTH) - 1), character=st.sampled_from(CHARACTERS))
def test_any_one_character_read_wrongly_is_noticed_in_hibc(at: int, character: str) -> None:
    wrong = BOTH[:at] + character + BOTH[at + 1 :]
    if wrong != BOTH:
        with pytest.raises(MisreadError):
            read_code(wrong)


@given(at=st.integers(2, 15), digit=st.sampled_from("0123456789"))
def test_any_one_digit_read_wrongly_is_noticed_in_a_gtin(at: int, digit: str) -> None:
    """The library gives a message with a wrong check digit as if nothing were wrong; this room must not."""
    wrong = GS1[:at] + digit + GS1[at + 1 :]
    if wrong != GS1:
        with pytest.raises(MisreadError):
            read_code(wrong)


def test_a_lost_separator_is_offered_as_another_reading() -> None:
    label = read_code(GS1.replace("\x1d", ""))
    assert label.lot == "A213B1211234"
    assert ("A213B1", "1234") in {(other.lot, other.serial) for other in label.otherwise}
    assert read_code("(01)51022222233336(10)A213B1211234").otherwise == ()


@pytest.mark.parametrize("code", ["", "   ", "hello", "+", "+$$", "x" * 401, "99", "(01", "\x00", "+ü12"])
def test_what_is_no_lens_code_is_refused_with_what_to_do(code: str) -> None:
    with pytest.raises(CodeError, match=r"Scan|scan|type"):
        read_code(code)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_and_never_breaks(text: str) -> None:
    for code in (text, "+" + text, "(01)" + text, "01" + text):
        try:
            read_code(code)
        except CodeError:
            continue


def drawn(code: str, kind: zxingcpp.BarcodeFormat, **options: object) -> Image.Image:
    """A code as a picture with white around it."""
    pixels = np.array(zxingcpp.create_barcode(code, kind, **options).to_image(scale=5))
    return Image.fromarray(np.pad(pixels, 60, constant_values=255))


def filed(picture: Image.Image, form: str = "PNG") -> bytes:
    """A picture as a file."""
    file = io.BytesIO()
    picture.save(file, form)
    return file.getvalue()


@pytest.mark.parametrize("form", ["PNG", "JPEG", "WEBP"])
@pytest.mark.parametrize("turned", [0, 90, 17])
def test_a_gs1_data_matrix_in_a_picture_keeps_its_separator(form: str, turned: int) -> None:
    picture = drawn(BRACKETED, zxingcpp.BarcodeFormat.DataMatrix, gs1=True).rotate(turned, expand=True, fillcolor=255)
    label = read_codes(codes_in_picture(filed(picture, form)))
    assert (label.lot, label.serial, label.expires) == ("A213B1", "1234", date(2015, 7, 7))


def test_a_hibc_code_in_a_picture_is_read_and_another_code_beside_it_passed_over() -> None:
    one = drawn(MORE, zxingcpp.BarcodeFormat.Code128)
    other = drawn("anything else", zxingcpp.BarcodeFormat.QRCode)
    sheet = Image.new("L", (max(one.width, other.width), one.height + other.height), 255)
    sheet.paste(one, (0, 0))
    sheet.paste(other, (0, one.height))
    assert codes_in_picture(filed(sheet)) == (MORE,)


def test_a_picture_without_a_lens_code_says_how_to_hold_the_box() -> None:
    with pytest.raises(CodeError, match="closer"):
        codes_in_picture(filed(Image.new("L", (200, 200), 255)))


def huge_png() -> bytes:
    """A file of a few hundred bytes that claims 40,000 by 40,000 pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 999)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "content",
    [b"", b"not a picture", b"\x89PNG\r\n\x1a\n", filed(Image.new("L", (50, 50)))[:60], huge_png(),
     filed(Image.new("L", (50, 50)), "GIF"), b"\xff\xd8\xff" + b"\0" * 500, b"\0" * (LARGEST_PICTURE_BYTES + 1)],
    ids=["empty", "text", "head only", "cut off", "huge", "another form", "broken", "too large"],
)  # fmt: skip
def test_hostile_files_are_refused_unopened(content: bytes) -> None:
    with pytest.raises(CodeError, match="picture"):
        codes_in_picture(content)
