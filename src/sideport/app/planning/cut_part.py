"""The cut on an eye's page: the planned one beside its runner-up, and what another one would do."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.utils.safestring import SafeString

from ...day.plan import EyePlan
from ...day.try_cut import cut_limits, planned_cut, try_cut
from ...errors import ImpossibleInputError
from ...knowledge import Reason, load_published
from ...present import numbers
from ...present.words import SITE_WORDS, clock_hour, cut_words
from ...wound.plan import WoundOption, WoundPlan
from .cut_form import FIELDS, CutForm
from .pictures import tried_picture

__all__ = ["CutRow", "Trying", "cut_rows", "trying"]

NOT_GIVEN = "not worked out"


@dataclass(frozen=True, slots=True)
class CutRow:
    """One line about a cut, with the same about another one beside it."""

    label: str
    value: str
    other: str | None = None
    differs: bool = False


@dataclass(frozen=True, slots=True)
class Trying:
    """The part of an eye's page where another cut is tried."""

    form: CutForm
    rows: tuple[CutRow, ...]
    """Planned, and tried where that could be worked out."""
    drawing: SafeString | None
    reasons: tuple[Reason, ...]
    same: bool
    """The asked cut is the planned one."""
    wrong: tuple[str, ...]
    """What is to be mended first."""
    said: str
    """The answer in one sentence, for those who do not see the picture."""
    renewed: str
    """The knowledge that the answer rests on, where the plan was made with another."""


def trying(*, eye: EyePlan, data: Mapping[str, str], knowledge_version: str) -> Trying | None:
    """What the asked cut would do to an eye, or ``None`` where no cut can be tried.

    Parameters
    ----------
    eye : EyePlan
        The planned eye.
    data : mapping
        The fields of the form as they came; the planned cut is weighed where none of them is there.
    knowledge_version : str
        That the plan was made with.
    """
    if eye.wound is None or eye.cut_grounds is None:
        return None
    knowledge = load_published()
    limits = cut_limits(wound=eye.wound, technique=eye.technique.suggested, knowledge=knowledge)
    planned = planned_cut(wound=eye.wound)
    sent = {name: data[name] for name in FIELDS if name in data}
    form = CutForm(sent or None, planned=planned, limits=limits)
    asked = planned if not form.is_bound else form.asked if form.is_valid() else None
    wrong, tried = form.wrong, None
    if asked is not None:
        try:
            tried = try_cut(eye=eye, cut=asked, knowledge=knowledge)
        except ImpossibleInputError as error:
            wrong = (str(error),)
    same = asked == planned
    return Trying(
        form=form,
        rows=cut_rows(eye.wound.chosen, tried.chosen if tried else None),
        drawing=tried_picture(eye, tried) if tried else None,
        reasons=tried.reasons if tried else (),
        same=same,
        wrong=wrong,
        said=said(tried, same=same) if tried else " ".join(wrong),
        renewed=knowledge.version if knowledge.version != knowledge_version else "",
    )


def said(tried: WoundPlan, *, same: bool) -> str:
    """The answer in one sentence."""
    cut = tried.chosen
    passes = "" if cut.passes is None else f", the nucleus passes in {numbers.percent(cut.passes)}"
    against = sum(reason.effect.value == "against" for reason in tried.reasons)
    counted = f" {against} {'reason' if against == 1 else 'reasons'} against it." if against else ""
    return (
        f"{'The planned cut' if same else 'What if'}: {cut_words(cut)}: "
        f"steepens {numbers.degrees(cut.induced_axis_deg)} by {numbers.dioptres(cut.induced_d)}, "
        f"leaves {numbers.dioptres(cut.cylinder_d)}, {numbers.percent(cut.within_one)} at 1.00\u00a0D or less{passes}."
        f"{counted}"
    )


def cut_rows(one: WoundOption, other: WoundOption | None = None) -> tuple[CutRow, ...]:
    """A cut line by line, beside another one where there is one; what neither has is left out."""
    first, second = lines_of(one), lines_of(other) if other else {}
    return tuple(
        CutRow(label, value or NOT_GIVEN, (second[label] or NOT_GIVEN) if other else None,
               bool(other) and value != second[label])
        for label, value in first.items()
        if value or second.get(label)
    )  # fmt: skip


def lines_of(cut: WoundOption) -> dict[str, str | None]:
    """What there is to say about a cut, in words and numbers; ``None`` for what was not worked out."""
    return {
        "Where": f"{SITE_WORDS[cut.site]}, {clock_hour(cut.meridian_deg)}",
        "Length and shape": f"{numbers.millimetres(cut.length_mm)} {cut.shape.value}",
        "Behind the limbus": numbers.millimetres(cut.limbus_distance_mm)
        + ("" if cut.end_distance_mm is None else f", ends {numbers.millimetres(cut.end_distance_mm)}"),
        "Carried into cornea": numbers.millimetres(cut.tunnel_mm),
        "Along the cut": known(cut.arc_mm, numbers.millimetres),
        "Inner opening": known(cut.inner_opening_mm, numbers.millimetres),
        "Inside the neutral funnel": known(cut.neutral_share, numbers.percent),
        "Steepens": f"{numbers.degrees(cut.induced_axis_deg)} by {numbers.dioptres(cut.induced_d)}",
        "Corneal cylinder after healing": f"{numbers.dioptres(cut.cylinder_d)} steep at "
        f"{numbers.degrees(cut.cylinder_axis_deg)}",
        "0.50\u00a0D or less": known(cut.within_half, numbers.percent),
        "1.00\u00a0D or less": numbers.percent(cut.within_one),
        "1.50\u00a0D or less": known(cut.within_one_and_half, numbers.percent),
        "Cylinder of the spectacles": spectacles(cut),
        "Nucleus passes without force": known(cut.passes, numbers.percent),
        "Seals without a suture": None if cut.seals is None else "yes" if cut.seals else "NO, suture it",
    }


def known(value: float | None, words: Callable[[float | None], str]) -> str | None:
    """The value in words, or ``None``."""
    return None if value is None else words(value)


def spectacles(cut: WoundOption) -> str | None:
    """The cylinder left to spectacles, written with minus, and how likely it is small."""
    if cut.refractive_cylinder_d is None or cut.refractive_axis_deg is None:
        return None
    within = cut.refractive_within_one
    share = "" if within is None else f"; {numbers.percent(within)} at 1.00\u00a0D or less"
    axis = numbers.degrees(cut.refractive_axis_deg)
    return f"{numbers.refraction(-cut.refractive_cylinder_d)} axis {axis}{share}"
