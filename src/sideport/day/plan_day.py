"""From what is known to the planned day."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import time

import numpy as np

from .. import __version__
from ..errors import NothingToPlanError
from ..eye.belief import believe
from ..eye.coordinates import Coordinate
from ..eye.describe import summarise
from ..eye.measurement import Measurement, Quantity
from ..eye.quality import quality_flags
from ..knowledge import Flag, Knowledge
from ..lens.sight import Cylinder
from ..optics.arrays import FloatArray
from ..risk.advice import TrolleyItem
from ..risk.trolley import trolley_for
from ..shelf.stock import box_flags
from ..wound.choose import plan_wound
from ..wound.induced import induced_astigmatism
from ..wound.plan import WoundPlan
from ..wound.technique import Technique
from .advise import Advised, harm_margin, share_of
from .backup_words import tell_sharing
from .case import ListedEye, eye_key
from .cost import cost_of_day, cost_of_eye, money_of_day, money_of_eye
from .doses import doses_for
from .draft import draft_day, pin_costs
from .harm import all_senior_tears, taught, training_cost
from .kit import kit_for_eye, kit_for_list
from .lenses import EyeLenses, after_cut
from .list_records import slots_of, with_list
from .plan import CostLine, DayPlan, EyeMoney, EyePlan, KitItem, Reading, Remeasurement, SetAside, ShelfRow, Slot
from .pull_list import pull_list, without_lenses
from .readiness import readiness_for
from .remeasure import remeasurements
from .set_aside import refused_length_flags, stopped_without_length
from .settings import DayRequest
from .target import unit_target
from .theatre_list import simulated
from .tonight import tonight_items, with_set_aside
from .try_cut import cut_grounds

__all__ = ["FORMAT_VERSION", "eye_key", "plan_day"]

FORMAT_VERSION = 1
"""Of ``DayPlan``; rises with every change that an older reader would misread."""

MILLIMETRES = {
    Quantity.AXIAL_LENGTH, Quantity.ANTERIOR_CHAMBER_DEPTH, Quantity.LENS_THICKNESS, Quantity.WHITE_TO_WHITE,
}  # fmt: skip


def plan_day(
    request: DayRequest, knowledge: Knowledge, *, seed: int, inputs_sha256: str, set_aside: tuple[SetAside, ...] = ()
) -> DayPlan:
    """Plans every listed eye and the day around them.

    Parameters
    ----------
    request : DayRequest
        People, lens models, boxes, team and settings.
    knowledge : Knowledge
        The numbers to plan with; its version is kept in the plan.
    seed : int
        Of any random draw; kept in the plan.
    inputs_sha256 : str
        Digest of the files the request was read from; kept in the plan.
    set_aside : tuple of SetAside
        What of those files could not be read; kept in the plan and told among what to sort out tonight.

    Returns
    -------
    DayPlan
        The same for the same arguments, to the digit.

    Raises
    ------
    NothingToPlanError
        When no eye is listed for operation.
    """
    listed = listed_eyes(request, knowledge, set_aside)
    if not listed:
        raise NothingToPlanError("No eye is listed for operation: mark at least one eye of the register as listed.")
    draft = draft_day(listed, request, knowledge, seed=seed)
    advised, lenses = draft.advised, draft.lenses
    wanted = [not entry.off_list for entry in advised]
    slots = slots_of(draft.list, listed, request.settings, knowledge)
    wounds = [wound_for(entry, found, request, knowledge) for entry, found in zip(advised, lenses, strict=True)]
    cylinders = [cylinder_left(entry, wound, knowledge) for entry, wound in zip(advised, wounds, strict=True)]
    plans = [
        eye_plan(entry, after_cut(lenses=found, cylinder=left), wound, slots.get(entry.eye.key), request, knowledge)
        for entry, found, wound, left in zip(advised, lenses, wounds, cylinders, strict=True)
    ]
    worth = remeasurements(
        eyes=listed,
        keys=[eye.key for eye in listed],
        wanted=wanted,
        cylinder=Cylinder(*(np.concatenate(parts) for parts in zip(*map(parts_of, cylinders), strict=True))),
        request=request,
        knowledge=knowledge,
    )
    eyes = tuple(sorted(plans, key=lambda plan: (plan.slot is None, plan.slot.order if plan.slot else 0, plan.key)))
    eyes = tell_sharing(eyes, knowledge)
    whole = with_set_aside(
        whole_day(eyes, worth, request, knowledge, seed=seed, inputs_sha256=inputs_sha256), set_aside
    )
    played = simulated(draft.list, knowledge, seed=seed)
    keys = {eye.key for eye in listed}
    stale = [pin for pin in request.pins if pin.eye_key not in keys]
    whole = with_list(whole, draft.list, played, request.settings, knowledge, stale)
    return replace(whole, pin_costs=pin_costs(draft, listed, request, knowledge, seed=seed))


def listed_eyes(request: DayRequest, knowledge: Knowledge, set_aside: Sequence[SetAside] = ()) -> tuple[ListedEye, ...]:
    """Every listed eye with its belief and its flags, in the order of the register."""
    belief = believe(request.people, population=request.settings.population, knowledge=knowledge)
    flags = quality_flags(request.people, belief, knowledge)
    wished = unit_target(request.settings, knowledge)
    found = []
    for index, person in enumerate(request.people):
        for record in person.eyes:
            if not record.listed:
                continue
            eye = belief.eye(index, record.side)
            target = wished if record.target_d is None else record.target_d
            summary = summarise(person, record.side, eye.mean, eye.covariance, belief.suspicions_of(index))
            own = stopped_without_length(flags[index].get(record.side, ()))
            refused = refused_length_flags(set_aside, person, record.side)
            found.append(ListedEye(person, record, eye, summary, (*own, *refused), target))
    return tuple(found)


def eye_plan(
    advised: Advised, lenses: EyeLenses, wound: WoundPlan | None, slot: Slot | None, request: DayRequest,
    knowledge: Knowledge,
) -> EyePlan:  # fmt: skip
    """All that is planned for one eye."""
    eye, person, record = advised.eye, advised.eye.person, advised.eye.record
    person_share = share_of(person, request)
    trolley = () if advised.off_list else trolley_for(
        person=person, record=record, technique=advised.technique.suggested, risk=advised.risk, knowledge=knowledge
    )  # fmt: skip
    kit, money, cost = laid_out(advised, lenses, trolley, person_share, request, knowledge)
    return EyePlan(
        key=eye.key,
        person_id=person.person_id,
        name=person.name,
        age_years=person.age_years,
        sex=person.sex,
        side=record.side,
        only_eye=eye.only_eye,
        cataract=record.cataract,
        acuity=record.acuity.written if record.acuity else "",
        note=" ".join(filter(None, (person.note, record.note))),
        readings=tuple(as_reading(measurement) for measurement in record.measurements),
        belief=eye.summary,
        flags=worst_first((*eye.flags, *lenses.flags)),
        target_d=eye.target_d,
        choices=lenses.choices,
        lens=lenses.lens,
        backup=lenses.backup,
        chamber_need=lenses.chamber_need,
        needs=lenses.needs,
        risk=advised.risk,
        technique=advised.technique,
        operator=advised.operator,
        wound=wound,
        kit=kit,
        cost=cost,
        slot=slot,
        off_list=advised.off_list,
        chamber=lenses.chamber,
        trolley=trolley,
        money=money,
        doses=doses_for(person=person, knowledge=knowledge),
        readiness=readiness_for(person=person, record=record, limits=request.settings.limits, knowledge=knowledge),
        cut_grounds=None
        if wound is None
        else cut_grounds(
            record=record,
            belief=eye.belief,
            technique=advised.technique.suggested,
            surgeon_right_handed=right_handed(advised, request),
            knowledge=knowledge,
        ),
    )


def laid_out(
    advised: Advised, lenses: EyeLenses, trolley: tuple[TrolleyItem, ...], share: float, request: DayRequest,
    knowledge: Knowledge,
) -> tuple[tuple[KitItem, ...], EyeMoney | None, tuple[CostLine, ...]]:  # fmt: skip
    """Kit, money and cost lines of an eye; nothing for one that is off the list."""
    if advised.off_list:
        return (), None, ()
    settings, technique = request.settings, advised.technique

    def kit_of(operation: Technique) -> tuple[KitItem, ...]:
        return kit_for_eye(
            record=advised.eye.record, technique=operation, trolley=trolley, lens=lenses.lens, backup=lenses.backup,
            knowledge=knowledge,
        )  # fmt: skip

    kit = kit_of(technique.suggested)
    other = technique.alternative if technique.alternative is not Technique.REFER else None
    folds = {model.name for model in request.lenses if model.foldable}
    money = money_of_eye(
        kit=kit, lens=lenses.lens, folding=lenses.lens is not None and lenses.lens.model in folds,
        technique=technique.suggested, alternative=other, alternative_kit=kit_of(other) if other else (), share=share,
        prices=settings.costs, fees=settings.fees, folding_surcharge=settings.folding_surcharge,
    )  # fmt: skip
    return kit, money, cost_of_eye(kit=kit, lens=lenses.lens, prices=settings.costs)


def cylinder_left(advised: Advised, wound: WoundPlan | None, knowledge: Knowledge) -> Cylinder:
    """The cornea's astigmatism as the planned cut is expected to leave it; as it is where no cut is planned."""
    crossed = slice(Coordinate.J0, Coordinate.J45 + 1)
    mean, covariance = advised.eye.belief.mean[crossed], advised.eye.belief.covariance[crossed, crossed]
    if wound is None:
        return Cylinder(mean[None], covariance[None])
    cut = wound.chosen
    induced = induced_astigmatism(
        site=cut.site, side=advised.eye.side, technique=advised.technique.suggested, length_mm=cut.length_mm,
        limbus_distance_mm=cut.limbus_distance_mm, shape=cut.shape, knowledge=knowledge,
    )  # fmt: skip
    return Cylinder((mean + induced.mean)[None], (covariance + induced.covariance)[None])


def parts_of(cylinder: Cylinder) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance side by side."""
    return cylinder.mean_d, cylinder.covariance_d2


def wound_for(advised: Advised, lenses: EyeLenses, request: DayRequest, knowledge: Knowledge) -> WoundPlan | None:
    """The cut for one eye and its lens; ``None`` for an eye to be referred."""
    if advised.technique.suggested is Technique.REFER:
        return None
    models = {model.name: model for model in request.lenses}
    eye = advised.eye
    astigmatism = slice(2, 4)
    return plan_wound(
        record=eye.record,
        summary=eye.summary,
        astigmatism_mean=eye.belief.mean[astigmatism],
        astigmatism_covariance=eye.belief.covariance[astigmatism, astigmatism],
        technique=advised.technique.suggested,
        lens_incision_mm=models[lenses.lens.model].incision_mm if lenses.lens else float("nan"),
        surgeon_right_handed=right_handed(advised, request),
        knowledge=knowledge,
    )


def right_handed(advised: Advised, request: DayRequest) -> bool:
    """The operator's knife hand; the usual one where nobody is named."""
    return next((one.right_handed for one in request.team if one.name == advised.operator.name), True)


def as_reading(measurement: Measurement) -> Reading:
    """A measurement as a sheet shows it."""
    unit = "mm" if measurement.quantity in MILLIMETRES else "D"
    return Reading(
        measurement.quantity.value, measurement.value, unit, measurement.method.value, measurement.axis_deg,
        measurement.as_written,
    )  # fmt: skip


def worst_first(flags: tuple[Flag, ...]) -> tuple[Flag, ...]:
    """Stops, then warnings, then notes."""
    rank = ("stop", "warn", "note")
    return tuple(sorted(flags, key=lambda flag: rank.index(flag.severity.value)))


def whole_day(
    eyes: tuple[EyePlan, ...],
    worth: tuple[Remeasurement, ...],
    request: DayRequest,
    knowledge: Knowledge,
    *,
    seed: int,
    inputs_sha256: str,
) -> DayPlan:
    """The day around its eyes: finish, kit, cost, shelf and what to sort out tonight."""
    settings = request.settings
    on_list = [eye for eye in eyes if eye.slot is not None]
    operators = [eye.operator for eye in on_list]
    finishes = max((eye.slot.ends for eye in on_list if eye.slot), default=None)
    overtime = minutes_past(finishes, settings.ends) if finishes else 0.0
    cost = cost_of_day(eye.cost for eye in on_list)
    shelf = shelf_rows(eyes, request, knowledge)
    others = kit_for_list(
        (without_lenses(eye.kit) for eye in on_list), trolleys=(eye.trolley for eye in on_list), stock=settings.stock,
        knowledge=knowledge,
    )  # fmt: skip
    kit = tuple(sorted((*pull_list(on_list, request.boxes), *others), key=lambda item: item.contingency))
    return DayPlan(
        format_version=FORMAT_VERSION,
        program_version=__version__,
        knowledge_version=knowledge.version,
        inputs_sha256=inputs_sha256,
        seed=seed,
        unit=settings.unit,
        day=settings.day,
        starts=settings.starts,
        ends=settings.ends,
        tables=settings.tables,
        finishes=finishes,
        overtime_min=overtime,
        eyes=eyes,
        tonight=tonight_items(
            eyes=eyes, shelf=shelf, cost=cost, finishes=finishes, ends=settings.ends, overtime_min=overtime, kit=kit
        ),
        kit=kit,
        cost=cost,
        currency=settings.currency,
        shelf=shelf,
        team=tuple(surgeon.name for surgeon in request.team),
        expected_tears=sum(eye.risk.probability for eye in on_list),
        remeasure=worth,
        all_senior_tears=all_senior_tears(operators=operators),
        training_cost_tears=training_cost(operators=operators),
        harm_margin=harm_margin(request, knowledge),
        money=money_of_day(eye.money for eye in on_list if eye.money is not None),
        taught=taught(keys=[eye.key for eye in on_list], operators=operators, team=request.team),
    )


def minutes_past(finishes: time, ends: time) -> float:
    """Minutes from the wished end to the expected one; negative when the day ends early."""
    return 60.0 * (finishes.hour - ends.hour) + (finishes.minute - ends.minute)


def shelf_rows(eyes: Sequence[EyePlan], request: DayRequest, knowledge: Knowledge) -> tuple[ShelfRow, ...]:
    """Every box with what the plan takes from it, by model and power."""
    models = {model.name: model for model in request.lenses}
    takers: dict[str, list[str]] = {}
    for eye in eyes:
        for choice in (eye.lens, eye.backup):
            if choice is not None and choice.box_id is not None and not choice.shared:
                takers.setdefault(choice.box_id, []).append(eye.key)
    return tuple(
        ShelfRow(
            box_id=box.box_id,
            model=box.model,
            power_d=box.power_d,
            count=box.count,
            given=len(takers.get(box.box_id, ())),
            expires=box.expires,
            lot=box.lot,
            serial=box.serial,
            location=box.location,
            price=box.price,
            given_to=tuple(takers.get(box.box_id, ())),
            flags=box_flags(box=box, day=request.settings.day, models=models, knowledge=knowledge),
        )
        for box in sorted(request.boxes, key=lambda box: (box.model, box.power_d, box.box_id))
    )
