"""The printed sheets say who, which side and which lens, page by page."""

import dataclasses
import io
import re
import unicodedata
from collections import Counter

import pytest
from pypdf import PageObject, PdfReader

from sample_plan import BENGALI_NAME, DEVANAGARI_NAME, choice, sample_plan, wound
from sideport.day.plan import DayPlan, DoseLine, ReadinessItem, ReadyState
from sideport.errors import ImpossibleInputError
from sideport.knowledge import Basis, Effect, Flag, Reason, Severity
from sideport.lens.choice import FormulaResult
from sideport.lens.model import Placement
from sideport.lens.registry import FORMULAS
from sideport.optics.side import Side
from sideport.present import numbers, sheets, words
from sideport.present.caution import CAUTION
from sideport.present.citations import Citations
from sideport.present.eye_sheet_data import eye_sheets_data
from sideport.present.fonts import FONT_FAMILIES, font_folders, sheet_fonts
from sideport.present.sheet_data import list_row
from sideport.present.sheets import day_pdf, eye_pdf
from sideport.risk.advice import TrolleyItem
from sideport.wound.plan import Site


def pages(pdf: bytes) -> list[str]:
    """Text of each page with all white space as single spaces."""
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages]


def spans(pdf: bytes, page: int) -> list[str]:
    """The text that the file states for clusters of letters drawn as one shape (ActualText), in reading order."""
    content = PdfReader(io.BytesIO(pdf)).pages[page].get_contents()
    assert content is not None
    found = re.findall(rb"/ActualText<FEFF([0-9A-F]+)>", content.get_data())
    return [bytes.fromhex(hexes.decode()).decode("utf-16-be") for hexes in found]


def type_sizes(page: PageObject) -> dict[float, int]:
    """Letters by type size [pt]."""
    sizes: Counter[float] = Counter()

    def weigh(told: str, space: list[float], frame: list[float], _font: object, size: float) -> None:
        sizes[round(abs(space[3] * frame[3]) * size, 1)] += len(told.strip())

    page.extract_text(visitor_text=weigh)
    return {size: letters for size, letters in sizes.items() if letters}


def squeezed(words: str) -> str:
    """Without white space: line breaks inside a name do not matter."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFC", words))


def test_there_is_one_page_an_eye_with_who_side_and_lens_and_one_of_sources(plan: DayPlan, eye_sheets: bytes) -> None:
    """Name, identity, side, signed power with place, and the caution stand on every page, in plan order."""
    told = pages(eye_sheets)
    assert len(told) == len(plan.eyes) + 1
    for number, (eye, page) in enumerate(zip(plan.eyes, told, strict=False), start=1):
        assert squeezed(eye.name) in squeezed(page) or not eye.name.isascii()
        assert eye.person_id in page
        assert f"{eye.side.name} EYE" in page
        assert f"{eye.side.other.name} EYE" not in page
        for lens, place in ((eye.lens, "BAG"), (eye.backup, "SULCUS")):
            if lens:
                assert f"{numbers.power(lens.power_d)}{place}".replace("\u00a0", "") in squeezed(page)
        assert squeezed(CAUTION) in squeezed(page)
        assert f"Page {number} of {len(plan.eyes) + 1}" in page
        assert "5a5a5a5a5a5a" in page
    assert "Sources of the eye sheets" in told[-1]


def test_every_figure_on_a_page_leads_to_a_work_on_the_last(plan: DayPlan) -> None:
    """The figures of all pages are those of the last page; what is from memory says so on both."""
    data = eye_sheets_data(plan)
    numbers_told = {row[0]: row for row in data["sources"]}
    assert list(numbers_told) == [str(n) for n in range(1, len(numbers_told) + 1)]
    for page in data["eyes"]:
        for item in (*page["flags"], *page["stops"], *page["cut_reasons"], *page["operator_reasons"]):
            assert item["cite"] in numbers_told
        for entry in page["sources"].split("; "):
            figure, _, key = entry.partition(" ")
            named = {"common practice": "practice", "the unit's setting": "unit"}.get(key, key.split(",")[0])
            assert numbers_told[figure][1] == named
    recalled = Citations()
    recalled.number("narendran2009", Basis.RECALLED)
    recalled.number("narendran2009", Basis.PUBLISHED)
    assert [row[2] for row in recalled.rows()] == ["from memory", "read"]


def test_the_formulas_a_page_uses_are_among_its_sources(plan: DayPlan) -> None:
    """The two formulas of the sample, by the papers that made them."""
    keys = {row[1] for row in eye_sheets_data(plan)["sources"]}
    assert {FORMULAS["srk-t"].source, FORMULAS["hoffer-q"].source} <= keys


def test_body_type_is_8_pt(plan: DayPlan, eye_sheets: bytes) -> None:
    """No page of the sample is shrunk: most letters are 8 pt, and none is under 5.5 pt (the figures of sources)."""
    for page in PdfReader(io.BytesIO(eye_sheets)).pages[: len(plan.eyes)]:
        sizes = type_sizes(page)
        assert max(sizes, key=lambda size: sizes[size]) == 8.0
        assert min(sizes) >= 5.5


def test_a_shared_backup_and_a_chamber_lens_are_never_taken_for_this_eyes_own(
    plan: DayPlan, eye_sheets: bytes, day_sheet: bytes
) -> None:
    """The word stands beside the place on both sheets, and only for the eye whose backup is shared."""
    page = pages(eye_sheets)[1]
    assert "SULCUS · shared" in page
    assert "CHAMBER · shared" in page
    assert "shared" not in pages(eye_sheets)[0]
    assert pages(day_sheet)[0].count("SULCUS · shared") == 1
    assert plan.eyes[1].backup is not None
    assert words.lens_words(plan.eyes[1].backup) == "+21.5\u00a0D SULCUS · shared Three-piece C"


def test_the_head_of_the_list_says_when_it_ends_and_what_to_expect(day_sheet: bytes) -> None:
    """On the first page only."""
    told = pages(day_sheet)
    line = "Starts 08:00, expected to end 10:10 · 6 eyes · expected capsule tears 0.2"
    assert line in told[0]
    assert all(line not in page for page in told[1:])


def test_the_lists_last_column_is_short(plan: DayPlan) -> None:
    """A long first sentence is cut at a word with an ellipsis; further warnings are counted, notes are not."""
    long = Flag("a", Severity.WARN, "The axial length of this eye " + "goes on and on " * 20 + "to 23.1 mm.", "Look.",
                "practice", Basis.COMMON_PRACTICE)  # fmt: skip
    flags = (
        dataclasses.replace(long, severity=Severity.NOTE), long, dataclasses.replace(long, code="b"),
        dataclasses.replace(long, code="c"),
    )  # fmt: skip
    row = list_row(dataclasses.replace(plan.eyes[0], flags=flags))
    assert len(row["warning"]["message"]) <= 112
    assert row["warning"]["message"].endswith(" …")
    assert row["more"] == "+2 more"


def test_the_given_lens_is_always_among_the_five_shown(plan: DayPlan) -> None:
    """Nine choices give five rows; the ninth, if given, stands as the fifth, and the strip has the same rows."""
    eye = plan.eyes[0]
    many = tuple(choice(18.0 + step, Placement.BAG, -0.3 * step, 0.5) for step in range(9))
    page = eye_sheets_data(dataclasses.replace(plan, eyes=(dataclasses.replace(eye, choices=many, lens=many[8]),)))
    rows = page["eyes"][0]["lenses"]["rows"]
    assert [row["order"] for row in rows] == ["1", "2", "3", "4", "5 GIVEN", "Backup"]
    assert rows[4]["power"] == numbers.power(26.0)
    assert page["eyes"][0]["lenses"]["strip"]["alt"].count("SULCUS") == 0
    assert "5: +26.0\u00a0D BAG Rigid A, given" in page["eyes"][0]["lenses"]["strip"]["alt"]


def test_a_mean_of_formulas_is_named_once_and_each_formula_has_its_column(plan: DayPlan) -> None:
    """Joined keys are a mean; a formula that was not run for a lens says so."""
    eye = plan.eyes[0]
    mean = tuple(dataclasses.replace(lens, formula="srk-t + hoffer-q") for lens in eye.choices)
    first = dataclasses.replace(mean[0], formulas=(FormulaResult("srk-t", -0.4),))
    mixed = dataclasses.replace(eye, choices=(first, *mean[1:]), lens=first, backup=None)
    table = eye_sheets_data(dataclasses.replace(plan, eyes=(mixed,)))["eyes"][0]["lenses"]
    assert table["expected"] == "Expected = mean of SRK/T and Hoffer Q."
    assert table["heads"] == ["SRK/T", "Hoffer Q"]
    assert table["rows"][0]["formulas"] == ["−0.40", "not run"]
    one = dataclasses.replace(mixed, choices=(dataclasses.replace(first, formula="haigis"), *mean[1:]))
    table = eye_sheets_data(dataclasses.replace(plan, eyes=(one,)))["eyes"][0]["lenses"]
    assert "Expected = Haigis for +21.0" in table["expected"]


def test_rules_come_before_weighed_reasons_and_those_before_neutral_ones(plan: DayPlan) -> None:
    """The reason that closes a site is never among those left for the screen."""
    wound_plan = plan.eyes[0].wound
    assert wound_plan is not None
    weighed = Reason("weighed", Effect.FOR, "practice", Basis.COMMON_PRACTICE, 0.4)
    neutral = Reason("neutral", Effect.NEUTRAL, "practice", Basis.COMMON_PRACTICE)
    rule = Reason("no upper cut", Effect.AGAINST, "practice", Basis.COMMON_PRACTICE)
    reasons = (neutral, weighed, weighed, weighed, rule)
    eye = dataclasses.replace(plan.eyes[0], wound=dataclasses.replace(wound_plan, reasons=reasons))
    page = eye_sheets_data(dataclasses.replace(plan, eyes=(eye,)))["eyes"][0]
    assert [row["text"] for row in page["cut_reasons"]] == ["no upper cut", "weighed", "weighed"]


def test_passage_seal_second_choice_and_more_room_stand_with_the_cut(eye_sheets: bytes) -> None:
    """As the plan has them; a cut that does not seal says so in capitals."""
    page = squeezed(pages(eye_sheets)[0])
    for told in (
        "The nucleus passes without force: 94%", "Seals without a suture", "Own results: 12 eyes, weight 30%",
        "Second: superior 12 o'clock, 7.00 mm frown", "(60% at 1.00 D or less), passes 98%",
        "More room, if needed: nucleus does not pass 7.00 mm",
    ):  # fmt: skip
        assert squeezed(told) in page
    plan = sample_plan()
    leaky = dataclasses.replace(wound(Site.SUPERIOR, 90.0, ()).chosen, seals=False)
    eye = dataclasses.replace(plan.eyes[0], wound=dataclasses.replace(wound(Site.SUPERIOR, 90.0, ()), chosen=leaky))
    assert "DOES NOT SEAL" in eye_sheets_data(dataclasses.replace(plan, eyes=(eye,)))["eyes"][0]["cut_lines"][0]


def test_what_is_worth_measuring_again_stands_on_the_days_sheet(day_sheet: bytes) -> None:
    """Whom, what, and by how much the chance of 6/12 would rise."""
    told = squeezed(" ".join(pages(day_sheet)))
    assert squeezed("Worth measuring again tonight") in told
    assert squeezed("Perrin Sand QI-106 LEFT axial length, contact ultrasound, 5 readings") in told
    assert squeezed("+37 in 100") in told


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
    for told_so in ("ONLY SEEING EYE", "NO LENS", "NO BACKUP", "NOBODY YET", "Sort out tonight", "STOP", "no price"):
        assert told_so in told


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
    for told_so in ("age not known", "sex not known", "acuity not known", "None recorded", "population only"):
        assert told_so in page


def test_a_stopped_eye_cannot_be_overlooked(eye_sheets: bytes) -> None:
    """The stop stands above the measurements with what to do."""
    page = pages(eye_sheets)[6]
    assert page.index("STOP.") < page.index("Measurements as written")
    assert "NOT ON THE LIST" in page


def test_an_overfull_eye_still_takes_one_page_in_readable_type(plan: DayPlan) -> None:
    """Forty flags, ten hazards and forty readings: the worst are told, the rest is counted, the type stays readable."""
    warn = tuple(
        Flag(f"flag-{n}", Severity.WARN, f"Finding number {n} of a very long series of findings in this eye.",
             "Measure it once more with another method.", "practice", Basis.COMMON_PRACTICE)
        for n in range(36)
    )  # fmt: skip
    stops = tuple(dataclasses.replace(warn[n], severity=Severity.STOP, message=f"Stop {n}.") for n in range(4))
    eye = plan.eyes[0]
    hazards = tuple(dataclasses.replace(eye.risk.trade_factors[0], label=f"Hazard {n}") for n in range(10))
    full = dataclasses.replace(
        eye, flags=(*warn, *stops), risk=dataclasses.replace(eye.risk, trade_factors=hazards), note="A note. " * 60,
        readings=eye.readings * 8,
    )  # fmt: skip
    told = pages(eye_pdf(dataclasses.replace(plan, eyes=(full, plan.eyes[1]))))
    assert len(told) == 3
    for told_so in (
        "Stop 0.", "Stop 2.", "Finding number 0 of", "On the screen only: 1 STOP, 33 LOOK AGAIN",
        "On the screen only: 7 more", "and 18 more", "What really happened", "Operator's signature",
    ):  # fmt: skip
        assert told_so in told[0].replace("\u2019", "'"), told_so
    sizes = type_sizes(PdfReader(io.BytesIO(eye_pdf(dataclasses.replace(plan, eyes=(full,))))).pages[0])
    assert max(sizes, key=lambda size: sizes[size]) >= 7.5


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


def test_the_list_says_on_page_1_where_the_evening_list_stands(plan: DayPlan, day_sheet: bytes) -> None:
    """The urgent items are counted, and the page is the one with the heading."""
    told = pages(day_sheet)
    found = re.search(r"Sort out tonight: (\d+) STOP, (\d+) LOOK AGAIN, page (\d+)", told[0])
    assert found is not None
    severities = Counter(item.severity for item in plan.tonight)
    assert [int(found[1]), int(found[2])] == [severities["stop"], severities["warn"]]
    assert "How urgent" in told[int(found[3]) - 1]


def test_advice_is_whole_sentences_and_what_is_left_out_is_counted(plan: DayPlan) -> None:
    """A stop keeps its second hypothesis; a hazard's long advice ends with one and counts the rest."""
    first, second = (
        "The lengths look exchanged between the two eyes. ",
        "Or a contact reading is far too short in one. ",
    )
    stop = Flag("s", Severity.STOP, first + second * 5, "Measure both.", "practice", Basis.COMMON_PRACTICE)
    eye = plan.eyes[0]
    hazard = dataclasses.replace(eye.risk.trade_factors[0], advice="Do not pull; the zonule gives first. " * 9)
    full = dataclasses.replace(eye, flags=(stop,), risk=dataclasses.replace(eye.risk, trade_factors=(hazard,)))
    page = eye_sheets_data(dataclasses.replace(plan, eyes=(full,)))["eyes"][0]
    assert page["stops"][0]["message"] == stop.message.strip()
    text = page["risk"]["trade"][0]["text"]
    assert text.endswith("the zonule gives first. (+4 on the screen)")
    assert "…" not in text


def test_readiness_trolley_and_doses_stand_on_the_page(plan: DayPlan) -> None:
    """What warns, what is to do, what stands open or closed, and the largest dose rounded down."""
    ready = (
        ReadinessItem("p", "Eye pressure", ReadyState.WARN, "24 mmHg, at or over 22.", "Lower it before the block.",
                      "practice", Basis.COMMON_PRACTICE),
        ReadinessItem("c", "Consent", ReadyState.TO_DO, "Not recorded.", "Ask.", "practice", Basis.COMMON_PRACTICE),
    )  # fmt: skip
    trolley = (
        TrolleyItem("Iris hooks", "small pupil", 0.5, True, "practice", Basis.COMMON_PRACTICE),
        TrolleyItem("Vitrectomy set", "a tear", 0.06, False, "jeang2022", Basis.PUBLISHED),
    )
    rule = "3 mg/kg, no more than 200 mg (50 kg)."
    dose = DoseLine(
        "Lidocaine 2 %",
        "block",
        "6 mL",
        149.99,
        7.4995,
        "20 mg/mL",
        rule,
        "localformulary",
        Basis.RECALLED,
        "No order.",
    )
    unweighed = dataclasses.replace(dose, maximum_mg=None, maximum_ml=None)
    eye = dataclasses.replace(plan.eyes[0], readiness=ready, trolley=trolley, doses=(dose,))
    other = dataclasses.replace(plan.eyes[1], doses=(unweighed,))
    told = [squeezed(page) for page in pages(eye_pdf(dataclasses.replace(plan, eyes=(eye, other))))]
    for words_told in (
        "Eye pressure: 24 mmHg, at or over 22. Lower it before the block.", "To do: Consent.",
        "Open on the trolley: Iris hooks (50%: small pupil)", "Keep closed: Vitrectomy set (6.0%: a tear)",
        "Lidocaine 2 % 7.4 mL (149.9 mg) at 20 mg/mL",
    ):  # fmt: skip
        assert squeezed(words_told) in told[0], words_told
    assert squeezed("Weight not recorded: weigh first. Lidocaine 2 % 3 mg/kg, no more than 200 mg") in told[1]


def test_a_second_choice_with_less_cylinder_but_less_chance_says_why(plan: DayPlan) -> None:
    """Its series scatters more; a second choice that is worse in both does not."""
    cut = plan.eyes[0].wound
    assert cut is not None
    assert cut.second is not None
    for mean, chance, says in ((0.1, 0.01, True), (9.0, 0.01, False)):
        second = dataclasses.replace(cut.second, cylinder_d=mean, within_one=chance)
        eye = dataclasses.replace(plan.eyes[0], wound=dataclasses.replace(cut, second=second))
        line = eye_sheets_data(dataclasses.replace(plan, eyes=(eye,)))["eyes"][0]["cut_lines"][0]
        assert ("its series scatters more" in line) is says


def test_nothing_on_the_wall_list_is_under_9_pt_but_the_footer(day_sheet: bytes) -> None:
    """The footer is 7.2 pt."""
    sizes = type_sizes(PdfReader(io.BytesIO(day_sheet)).pages[0])
    assert min(size for size in sizes if size > 7.3) >= 9.0


def test_the_eye_sheet_says_that_its_acuity_is_after_the_cut(eye_sheets: bytes) -> None:
    """The command for one eye tells it before the cut, so both say which."""
    assert "by the cylinder after the cut" in pages(eye_sheets)[0]
