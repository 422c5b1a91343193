"""What the code on a lens box says: GS1 or HIBC, from a scanner that types or from a picture."""

import io
import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import biip
import zxingcpp
from biip.gs1_messages import GS1Message
from PIL import Image

from .hibc import CodeError, HibcCode, MisreadError, read_hibc

__all__ = ["LARGEST_PICTURE_BYTES", "CodeError", "LensLabel", "codes_in_picture", "read_code", "read_codes"]

SEPARATOR = "\x1d"
SHOWN_SEPARATORS = re.compile("\u241d|<GS>|\\{GS\\}|\\[GS\\]", re.IGNORECASE)
LONGEST_CODE = 400
LARGEST_PICTURE_BYTES = 15_000_000
MOST_PIXELS = 60_000_000
LONGEST_EDGE = 2600
"""Pictures are made smaller than this before they are read; a code fills a good part of them."""
PICTURES = ("JPEG", "PNG", "WEBP")
TAILS = (("17", 6), ("11", 6), ("10", 0), ("21", 0))
"""Element strings that may follow a lot or serial: identifier, and how many digits it has; 0 for any text."""


@dataclass(frozen=True, slots=True)
class LensLabel:
    """What the codes of one box say."""

    standard: str
    """``GS1`` or ``HIBC``."""
    product: str = ""
    """GTIN of 14 digits, or labeller, product and unit; empty where only a second half was read."""
    lot: str = ""
    serial: str = ""
    expires: date | None = None
    made: date | None = None
    codes: tuple[str, ...] = ()
    """As they were read."""
    otherwise: tuple["LensLabel", ...] = ()
    """How the code would read if the scanner dropped a separator; empty when it cannot have."""
    link: str = ""

    @property
    def names_a_box(self) -> bool:
        """Whether lot or serial is known, so that the box can be told from others."""
        return bool(self.lot or self.serial)


def read_codes(codes: Sequence[str]) -> LensLabel:
    """The codes of one box together, such as a first and a second half.

    Parameters
    ----------
    codes : sequence of str
        One or more, in any order.

    Returns
    -------
    LensLabel

    Raises
    ------
    CodeError
        When a code cannot be trusted, or two of them speak of different boxes.
    """
    labels = [read_code(code) for code in dict.fromkeys(codes)]
    if not labels:
        raise CodeError("No code was read. Scan the box, or type the label.")
    joined = labels[0]
    for label in labels[1:]:
        joined = join(joined, label)
    return joined


def join(one: LensLabel, other: LensLabel) -> LensLabel:
    """Two codes of one box as one label."""
    names = ("standard", "product", "lot", "serial", "expires", "made")
    for name in names:
        said, too = getattr(one, name), getattr(other, name)
        if said and too and said != too:
            raise CodeError("The codes speak of two different boxes. Scan one box alone.")
    if one.standard == "HIBC" and one.link != other.link and bool(one.product) != bool(other.product):
        raise CodeError("The second code does not belong to the first. Scan both codes of one box.")
    said_by = {name: getattr(one, name) or getattr(other, name) for name in names}
    return replace(one, **said_by, codes=one.codes + other.codes, otherwise=one.otherwise + other.otherwise)


def read_code(code: str) -> LensLabel:
    """What one code says.

    Parameters
    ----------
    code : str
        As a scanner types it. The separator may be the character itself or stand as ``<GS>`` or its picture.

    Returns
    -------
    LensLabel

    Raises
    ------
    CodeError
        When a check digit does not fit or the code follows neither standard; the message says what to do.

    Notes
    -----
    A scanner that drops the separator makes the lot swallow what follows it, and nothing in the code says so. Every way
    to read the code with a separator put back is therefore given in ``otherwise``, for the shelf to decide.

    References
    ----------
    GS1 General Specifications, section 3 (application identifiers); ANSI/HIBC 2.6 (2016).

    Example
    -------
    >>> label = read_code("(01)51022222233336(17)330707(10)A213B1(21)1234")
    >>> label.product, label.lot, label.serial, label.expires.isoformat()
    ('51022222233336', 'A213B1', '1234', '2033-07-07')
    """
    text = SHOWN_SEPARATORS.sub(SEPARATOR, code.strip(" \t\r\n"))
    if not text or len(text) > LONGEST_CODE:
        raise CodeError("No code was read. Scan the box again, or type the label.")
    if re.match(r"(\][A-Za-z][0-9a-z])?\*?\+", text):
        return of_hibc(code, read_hibc(re.sub(r"^\][A-Za-z][0-9a-z]", "", text)))
    return of_gs1(code, text)


def of_hibc(code: str, said: HibcCode) -> LensLabel:
    """A label from a HIBC code."""
    return LensLabel(
        "HIBC", product=said.product, lot=said.lot, serial=said.serial, expires=said.expires, made=said.made,
        codes=(code,), link=said.link,
    )  # fmt: skip


def of_gs1(code: str, text: str) -> LensLabel:
    """A label from a GS1 code, with its check digit verified."""
    message, product = gs1_message(text)
    found = {each.ai.ai: each for each in message.element_strings} if message else {}
    if "01" in found:
        if found["01"].gtin is None:
            raise MisreadError(
                "The check digit does not fit, so the code was misread. Scan it again, or type the label."
            )
        product = found["01"].value
    said = {ai: found[ai].value for ai in ("10", "21") if ai in found}
    dates = {ai: found[ai].date for ai in ("17", "11") if ai in found}
    label = LensLabel(
        "GS1", product=product, lot=said.get("10", ""), serial=said.get("21", ""), expires=dates.get("17"),
        made=dates.get("11"), codes=(code,),
    )  # fmt: skip
    bare = SEPARATOR not in text and not text.startswith("(")
    return replace(label, otherwise=tuple(put_back(label))) if bare else label


def gs1_message(text: str) -> tuple[GS1Message | None, str]:
    """The element strings of a code, or the bare product number of a plain one."""
    try:
        if text.startswith("("):
            return GS1Message.parse_hri(text), ""
        parsed = biip.parse(text)
    except biip.ParseError:
        raise CodeError("This code follows neither GS1 nor HIBC. Scan another code of the box, or type it.") from None
    if parsed.gs1_message is not None:
        return parsed.gs1_message, ""
    if parsed.gtin is not None:
        return None, parsed.gtin.as_gtin_14()
    raise CodeError("This code follows neither GS1 nor HIBC, or was misread. Scan it again, or type the label.")


def put_back(label: LensLabel) -> Iterator[LensLabel]:
    """The ways in which a separator may have been lost: the end of a lot or serial read as what would follow it."""
    for name in ("lot", "serial"):
        value = getattr(label, name)
        for at in range(1, len(value)):
            after = follows(value[at:])
            if after is not None and not any(getattr(label, key) for key in after):
                yield replace(label, **{name: value[:at]}, **after)


def follows(text: str) -> dict[str, Any] | None:
    """What a text says as one further element string; ``None`` when it cannot be one."""
    for ai, digits in TAILS:
        value = text[len(ai) :]
        if not text.startswith(ai) or not value:
            continue
        if not digits:
            return {"lot" if ai == "10" else "serial": value}
        if re.fullmatch(f"[0-9]{{{digits}}}", value):
            try:
                day = GS1Message.parse(text).element_strings[0].date
            except biip.ParseError:
                continue
            return {"expires" if ai == "17" else "made": day}
    return None


def codes_in_picture(content: bytes) -> tuple[str, ...]:
    """The GS1 and HIBC codes in a picture.

    Parameters
    ----------
    content : bytes
        A JPEG, PNG or WebP file, as a tablet's camera makes it.

    Returns
    -------
    tuple of str
        In the order in which they were found, each once; codes that follow neither standard are left out.

    Raises
    ------
    CodeError
        When it is not a picture, is too large, or no such code is seen in it.
    """
    picture = open_picture(content)
    codes: list[str] = []
    misread: MisreadError | None = None
    # Byte for byte, so that separators stay.
    for code in dict.fromkeys(
        found.bytes.decode("utf-8", errors="replace") for found in zxingcpp.read_barcodes(picture)
    ):
        try:
            read_code(code)
        except MisreadError as error:
            misread = error
        except CodeError:
            continue
        else:
            codes.append(code)
    if not codes:
        raise misread or CodeError("No lens code is seen in the picture. Hold the box still, closer and in good light.")
    return tuple(codes)


def open_picture(content: bytes) -> Image.Image:
    """A picture in grey, small enough to read; what is not a picture or claims too many pixels is refused unopened."""
    if len(content) > LARGEST_PICTURE_BYTES:
        raise CodeError(f"The picture is larger than {LARGEST_PICTURE_BYTES // 1_000_000} MB. Take a smaller one.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(content), formats=PICTURES)
            if picture.width * picture.height > MOST_PIXELS:
                raise CodeError("The picture has too many pixels. Take a smaller one.")
            picture.draft("L", (LONGEST_EDGE, LONGEST_EDGE))
            grey = picture.convert("L")
    except CodeError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning, OSError, ValueError, SyntaxError):
        raise CodeError("This is not a picture that can be read. Take it as JPEG, PNG or WebP.") from None
    grey.thumbnail((LONGEST_EDGE, LONGEST_EDGE))
    return grey
