"""What an eye's printed page says, as plain text and bounded, so that it always fits one page in readable type.

The page carries what the theatre needs; the whole argument stands on the eye's page on the screen.
"""

from collections import Counter
from collections.abc import Iterable, Sequence

from ..day.plan import DayPlan, EyePlan, KitItem, Reading
from ..eye.summary import Estimate
from ..knowledge import Effect, Flag, Reason, Severity
from ..lens.choice import LensChoice
from ..lens.model import Placement
from ..lens.registry import FORMULAS
from ..wound.plan import WoundOption
from . import numbers, words
from .citations import Citations, PageCitations, cited_once
from .eye_drawing import eye_description, eye_drawing
from .eye_sheet_safety import dose_data, readiness_data, trolley_data
from .forecast_strip import forecast_description, forecast_strip
from .plan_marks import marks_of
from .sheet_data import Data, list_row, sheet_frame, sorted_flags

__all__ = ["eye_sheets_data"]

LENSES, REASONS, FLAGS, STOPS, HAZARDS = 5, 3, 3, 3, 3
READING_ROWS, READINGS_A_ROW = 7, 6
WHOLE, LONG, LINE, SHORT = 600, 200, 112, 80
"""Most letters of a sentence, by how wide its place is."""
FORMULA_HEADS = {"holladay-1": "Holl. 1"}
QUANTITY_WORDS = {"anterior chamber depth": "Chamber depth", "white to white": "Corneal diameter"}
"""As the belief below calls them, and short where a word is wider than its column."""


def eye_sheets_data(plan: DayPlan) -> Data:
    """One page an eye and the sources at the end.

    Parameters
    ----------
    plan : DayPlan
        The planned day.

    Returns
    -------
    dict
        Text by name, as ``templates/eyes.typ`` reads it.
    """
    citations = Citations()
    eyes = [eye_page(eye, PageCitations(citations)) for eye in plan.eyes]
    return {**sheet_frame(plan, "Eye sheets"), "eyes": eyes, "models": risk_notes(plan), "sources": citations.rows()}


def risk_notes(plan: DayPlan) -> list[str]:
    """What the risk models are and are not, each sentence once, in the order of the list."""
    sentences = (sentence for eye in plan.eyes for sentence in words.sentences(eye.risk.note))
    return list(dict.fromkeys(sentences))


def eye_page(eye: EyePlan, cite: PageCitations) -> Data:
    """Everything on one eye's page; the sources last, when all have been used."""
    page = {
        **list_row(eye),
        "off_list": words.whole_sentences(eye.off_list, LONG) if eye.slot is None else "",
        "acuity": eye.acuity or "acuity not known",
        "note": words.shortened(eye.note, LONG),
        **flag_parts(eye.flags, cite),
        "readings": reading_rows(eye.readings),
        "belief": belief_rows(eye),
        "belief_more": belief_lines(eye),
        "lenses": lens_table(eye, cite),
        "drawing": drawing_data(eye),
        "cut_lines": cut_lines(eye),
        "cut_reasons": reason_rows(eye.wound.reasons, cite) if eye.wound else [],
        "reasons_told": {
            "cut": len(eye.wound.reasons) if eye.wound else 0,
            "technique": len(eye.technique.reasons),
            "operator": len(eye.operator.reasons),
        },
        "technique_reasons": reason_rows(eye.technique.reasons, cite),
        "alternative": words.TECHNIQUE_WORDS[eye.technique.alternative] if eye.technique.alternative else "",
        "operator_reasons": reason_rows(eye.operator.reasons, cite),
        "risk": risk_data(eye, cite),
        "kit": "; ".join(kit_words(item) for item in eye.kit if not item.contingency),
        "trolley": trolley_data(eye, cite),
        "readiness": readiness_data(eye.readiness, cite),
        "doses": dose_data(eye.doses, cite),
    }
    return {**page, "sources": cite.line()}


def kit_words(item: KitItem) -> str:
    """What to lay out, and how many where it is not one."""
    if item.quantity == 1:
        return item.name
    return f"{item.name} ({numbers.count(item.quantity)}{numbers.NO_BREAK}{item.unit})"


def flag_parts(flags: Iterable[Flag], cite: PageCitations) -> Data:
    """Stops for the bands, the worst of the others for the list, and how many more the screen has."""
    ordered = sorted_flags(flags)
    stops = [flag for flag in ordered if flag.severity is Severity.STOP]
    others = [flag for flag in ordered if flag.severity is not Severity.STOP]
    rest = Counter(words.SEVERITY_WORDS[flag.severity] for flag in [*stops[STOPS:], *others[FLAGS:]])
    more = ", ".join(f"{count} {word}" for word, count in rest.items())
    return {
        "stops": [flag_data(flag, cite) for flag in stops[:STOPS]],
        "flags": [flag_data(flag, cite) for flag in others[:FLAGS]],
        "flags_more": f"On the screen only: {more}." if more else "",
    }


def flag_data(flag: Flag, cite: PageCitations) -> Data:
    """A flag with its word, action and source; a stop keeps every sentence, such as what else it may be."""
    limit = WHOLE if flag.severity is Severity.STOP else LONG
    return {
        "severity": flag.severity.value,
        "word": words.SEVERITY_WORDS[flag.severity],
        "message": words.whole_sentences(flag.message, limit),
        "action": words.whole_sentences(flag.action, limit),
        "cite": cite.mark(flag.source, flag.basis),
    }


def reading_rows(readings: Sequence[Reading]) -> list[list[str]]:
    """Readings of one quantity and method together: quantity, values, method; what does not fit is counted."""
    groups: dict[tuple[str, str], list[str]] = {}
    for reading in readings:
        groups.setdefault((reading.quantity, reading.method), []).append(reading_words(reading))
    rows = [
        [QUANTITY_WORDS.get(quantity, quantity[:1].upper() + quantity[1:]), listed(values), method]
        for (quantity, method), values in groups.items()
    ]
    left = rows[READING_ROWS:]
    return [*rows[:READING_ROWS], *([["More", f"{len(left)} kinds of readings on the screen", ""]] if left else [])]


def listed(values: Sequence[str]) -> str:
    """Values in a row, with the unit once where all share it; the number of those left out."""
    shown = list(values[:READINGS_A_ROW])
    units = {value.rpartition(numbers.NO_BREAK)[2] for value in shown}
    if len(units) == 1 and all(numbers.NO_BREAK in value for value in shown):
        shown = [*(value.rpartition(numbers.NO_BREAK)[0] for value in shown[:-1]), shown[-1]]
    left = len(values) - len(shown)
    return ", ".join(shown) + (f" and {left} more" if left else "")


def reading_words(reading: Reading) -> str:
    """A reading, with its axis, and as written where the file says it otherwise."""
    value = numbers.quantity(reading.value, reading.unit)
    axis = f" at {numbers.degrees(reading.axis_deg)}" if reading.axis_deg is not None else ""
    plain = numbers.number(reading.value)
    told = reading.as_written.replace(",", ".")
    same = not told or told.startswith(plain) or plain.rstrip("0").rstrip(".") == told
    return f"{value}{axis}" + ("" if same else f" (written {words.brief(reading.as_written, SHORT)})")


def belief_rows(eye: EyePlan) -> list[list[str]]:
    """What the lens rests on: quantity, value with spread, where it comes from."""
    belief = eye.belief
    steep = numbers.degrees(belief.steep_axis_deg)
    amount_d = belief.corneal_astigmatism_d
    return [
        ["Axial length", spread(belief.axial_length_mm, "mm"), belief.axial_length_mm.origin],
        ["Mean keratometry", spread(belief.mean_k_d, "D"), belief.mean_k_d.origin],
        ["Astigmatism", f"{spread(amount_d, 'D')}, steep {steep}", amount_d.origin],
    ]


def belief_lines(eye: EyePlan) -> list[str]:
    """The other quantities in words, those of one origin together."""
    belief = eye.belief
    groups: dict[str, list[str]] = {}
    for label, estimate in (
        ("chamber depth", belief.chamber_depth_mm),
        ("lens thickness", belief.lens_thickness_mm),
        ("corneal diameter", belief.white_to_white_mm),
    ):
        groups.setdefault(estimate.origin, []).append(f"{label} {spread(estimate, 'mm')}")
    return [f"{told[0][:1].upper()}{', '.join(told)[1:]} ({origin})." for origin, told in groups.items()]


def spread(estimate: Estimate, unit: str) -> str:
    """Value and standard deviation."""
    return numbers.with_spread(estimate.value, estimate.sd, unit)


def shown_choices(eye: EyePlan) -> tuple[LensChoice, ...]:
    """The lenses nearest the target, the given one always among them."""
    first = eye.choices[:LENSES]
    if eye.lens is None or eye.lens in first:
        return first
    return (*first[: LENSES - 1], eye.lens)


def lens_table(eye: EyePlan, cite: PageCitations) -> Data:
    """The lenses compared, numbered as in the strip, the backups, and what every formula says."""
    choices = shown_choices(eye)
    others = [(word, lens) for word, lens in (("Backup", eye.backup), ("Chamber", eye.chamber)) if lens]
    rows = [*choices, *(lens for _, lens in others)]
    used = {result.formula for choice in rows for result in choice.formulas}
    keys = [key for key in FORMULAS if key in used]
    for key in keys:
        cite.whole.number(FORMULAS[key].source, FORMULAS[key].basis)
    strip = forecast_strip(choices=choices, lens=eye.lens, target_d=eye.target_d, ident=f"{eye.key}-strip", tight=True)
    return {
        "target": numbers.refraction(eye.target_d),
        "heads": [FORMULA_HEADS.get(key, FORMULAS[key].label) for key in keys],
        "rows": [
            {**lens_row(choice, keys), "order": f"{order} GIVEN" if given else str(order), "given": given}
            for order, choice in enumerate(choices, start=1)
            for given in (choice == eye.lens,)
        ]
        + [{**lens_row(lens, keys), "order": word, "given": False} for word, lens in others],
        "expected": expected_words(rows),
        "needs": further_needs(eye),
        "chamber": (
            f"If neither bag nor sulcus holds, fetch {words.need_words(eye.chamber_need)}."
            if eye.chamber_need and eye.chamber is None
            else ""
        ),
        "strip": {
            "svg": strip,
            "alt": forecast_description(choices=choices, lens=eye.lens, target_d=eye.target_d),
        }
        if choices
        else None,
    }


def further_needs(eye: EyePlan) -> list[str]:
    """What to fetch beyond what stands at the head of the page in the place of a missing lens or backup."""
    told = {
        next((need for need in eye.needs if need.placement is placement), None)
        for placement, lens in ((Placement.BAG, eye.lens), (Placement.SULCUS, eye.backup))
        if lens is None
    }
    return [words.whole_sentences(f"Fetch {words.need_words(n)}: {n.reason}", LINE) for n in eye.needs if n not in told]


def lens_row(choice: LensChoice, keys: Sequence[str]) -> Data:
    """One lens with what it would do, and what each formula says."""
    said = {result.formula: result.refraction_d for result in choice.formulas}
    return {
        "power": numbers.power(choice.power_d),
        "place": words.place_words(choice),
        "model": choice.model,
        "expected": f"{numbers.signed(choice.refraction_d)} ± {numbers.number(choice.sd_d)}",
        "half": numbers.percent(choice.within_half),
        "one": numbers.percent(choice.within_one),
        "far": numbers.percent(choice.beyond_two),
        "sees": numbers.percent(choice.sees_6_12),
        "sees_18": numbers.percent(choice.sees_6_18),
        "formulas": [numbers.signed(said[key]) if key in said else "not run" for key in keys],
    }


def expected_words(rows: Sequence[LensChoice]) -> str:
    """Which formulas the expectation stands on; powers apart where they differ."""
    by_formula: dict[str, list[str]] = {}
    for choice in rows:
        by_formula.setdefault(words.formula_words(choice.formula), []).append(words.lens_words(choice))
    if len(by_formula) == 1:
        return f"Expected = {next(iter(by_formula))}."
    return "".join(f"Expected = {formula} for {', '.join(lenses)}. " for formula, lenses in by_formula.items()).strip()


def drawing_data(eye: EyePlan) -> Data:
    """The surgeon's view without its legend, which stands beside it in the page's own type."""
    marks = marks_of(eye)
    return {
        "svg": eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident=eye.key, marks=marks, legend=False),
        "alt": eye_description(side=eye.side, wound=eye.wound, belief=eye.belief, marks=marks),
        "key": ("Thick: cut; grey: tunnel; broken: inner opening. " if eye.wound else "") + scale_note(eye),
    }


def scale_note(eye: EyePlan) -> str:
    """Whether the drawing is to scale; the corneal diameter itself stands with what is believed."""
    return "To scale." if numbers.known(eye.belief.white_to_white_mm.value) else "Not to scale."


def cut_lines(eye: EyePlan) -> list[str]:
    """The cut and what it should do to the cornea; passage and seal; the second choice; how to get more room."""
    if eye.wound is None:
        return []
    cut, second, extensions = eye.wound.chosen, eye.wound.second, eye.wound.extensions
    more: list[str] = []
    told = [
        f"{words.cut_words(cut)}, {numbers.millimetres(cut.limbus_distance_mm)} behind the limbus, tunnel "
        f"{numbers.millimetres(cut.tunnel_mm)} into clear cornea; expected cylinder {cylinder_words(cut)}, steep at "
        f"{numbers.degrees(cut.cylinder_axis_deg)}."
    ]
    if cut.passes is not None:
        told.append(f"The nucleus passes without force: {numbers.percent(cut.passes)}.")
    if cut.seals is not None:
        told.append("Seals without a suture." if cut.seals else "DOES NOT SEAL by itself: suture.")
    if eye.wound.own_eyes:
        told.append(f"Own results: {eye.wound.own_eyes} eyes, weight {numbers.percent(eye.wound.own_weight)}.")
    if second:
        passes = "" if second.passes is None else f", passes {numbers.percent(second.passes)}"
        told.append(
            f"Second: {words.cut_words(second)}, {cylinder_words(second)}{passes}"
            f"{'; its series scatters more' if scatters_more(second, cut) else ''}."
        )
    if extensions:
        ways = "; ".join(f"{way.purpose} {numbers.millimetres(way.to_mm)}" for way in extensions)
        more.append(f"More room, if needed: {ways}.")
    whole = " ".join(told)
    return [whole[:1].upper() + whole[1:], *more]


def cylinder_words(cut: WoundOption) -> str:
    """The mean, and the chance that says how far it may be trusted."""
    chance = numbers.percent(cut.within_one)
    return f"{numbers.dioptres(cut.cylinder_d)} ({chance} at 1.00{numbers.NO_BREAK}D or less)"


def scatters_more(second: WoundOption, chosen: WoundOption) -> bool:
    """Whether the second choice has the smaller mean cylinder and yet the smaller chance of a small one."""
    return second.cylinder_d < chosen.cylinder_d and second.within_one < chosen.within_one


def reason_rows(reasons: Iterable[Reason], cite: PageCitations) -> list[Data]:
    """The strongest reasons: rules that nothing outweighs, then weighed ones as given, then what pushes neither way."""
    ordered = sorted(reasons, key=lambda reason: (reason.effect is Effect.NEUTRAL, reason.weight is not None))
    return [
        {
            "text": words.whole_sentences(reason.text, LINE),
            "effect": reason.effect.value,
            "cite": cite.mark(reason.source, reason.basis),
        }
        for reason in ordered[:REASONS]
    ]


def risk_data(eye: EyePlan, cite: PageCitations) -> Data:
    """Odds of a capsule tear with what raised them, and the hazards that the model lacks."""
    risk = eye.risk
    factors = [
        {
            "text": f"{factor.label} {numbers.odds_ratio(factor.odds_ratio)}",
            "cite": cite.mark(factor.source, factor.basis),
        }
        for factor in risk.factors
    ]
    trade = [
        {
            "text": f"{factor.label}: {words.whole_sentences(factor.advice, LONG)}",
            "cite": cite.mark(factor.source, factor.basis),
        }
        for factor in risk.trade_factors[:HAZARDS]
    ]
    left = len(risk.trade_factors) - len(trade)
    return {
        "odds": f"{numbers.percent(risk.probability)} ({numbers.percent(risk.low)} to {numbers.percent(risk.high)})",
        "factors": cited_once(factors),
        "trade": trade,
        "trade_more": f"On the screen only: {left} more." if left else "",
        "missing": f"Not recorded: {', '.join(risk.missing)}." if risk.missing else "",
        "note": "What the model is: last page." if risk.note else "",
    }
