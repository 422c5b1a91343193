"""Lens, backup and what to fetch, for all listed eyes at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..eye.coordinates import Coordinate
from ..knowledge import Flag, Knowledge
from ..lens.choice import LensChoice
from ..lens.choosing import lens_choice, nearest_lenses
from ..lens.constants import can_sit
from ..lens.forecast import Forecast, forecast
from ..lens.formula import Biometry
from ..lens.model import LensModel, Placement
from ..lens.sight import Chances, Cylinder, chances, with_cylinder
from ..lens.target import imbalance_flag
from ..lens.trust import disagreement_flag, range_flags, stand_in_flag
from ..shelf.box import Box
from ..shelf.give import Given, give_lenses
from ..shelf.needs import lens_needs
from ..shelf.stock import lenses_on_shelf, usable
from .backup_words import lens_itself_flag, strong_backup_flag
from .both_eyes import both_eyes_flags, lots_apart
from .case import ListedEye
from .pins import Pin, pin_for
from .plan import PowerNeed
from .settings import DayRequest
from .whereabouts import Whereabouts

__all__ = ["EyeLenses", "ShelfChoices", "after_cut", "lenses_for", "shelf_choices"]

SHOWN = 7
"""Lenses nearest the target that a sheet shows for an eye."""


@dataclass(frozen=True, slots=True)
class EyeLenses:
    """What the shelf offers one eye."""

    choices: tuple[LensChoice, ...]
    lens: LensChoice | None
    backup: LensChoice | None
    chamber: LensChoice | None
    """The chamber lens on the shelf nearest the target, standing by."""
    chamber_need: PowerNeed | None
    needs: tuple[PowerNeed, ...]
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True)
class ShelfChoices:
    """Every lens on the shelf in one eye, nearest its target first, by placement."""

    lenses: Mapping[Placement, tuple[LensChoice, ...]]
    flags: tuple[Flag, ...]
    """What to say about the formulas behind the nearest bag lens."""


def shelf_choices(*, eyes: Sequence[ListedEye], request: DayRequest, knowledge: Knowledge) -> tuple[ShelfChoices, ...]:
    """What the shelf would do in each eye, without giving anything to anybody.

    Parameters
    ----------
    eyes : sequence of ListedEye
    request : DayRequest
        Lens models, boxes and settings.
    knowledge : Knowledge

    Returns
    -------
    tuple of ShelfChoices
        One an eye, in the order given; each lens as its first-expiring box would supply it.
    """
    table = Table.build(eyes, request, knowledge)
    every = []
    for index, eye in enumerate(eyes):
        lenses = {placement: nearest_choices(table, placement, index, eye, None) for placement in Placement}
        nearest = next(iter(lenses[Placement.BAG]), None)
        every.append(ShelfChoices(lenses, formula_flags(eye, nearest, table.policy, knowledge)))
    return tuple(every)


def lenses_for(
    *,
    eyes: Sequence[ListedEye],
    wanted: Sequence[bool],
    tear_probability: Sequence[float],
    request: DayRequest,
    knowledge: Knowledge,
) -> tuple[EyeLenses, ...]:
    """Gives lenses and backups to all eyes together and says what is missing.

    Parameters
    ----------
    eyes : sequence of ListedEye
        In any order.
    wanted : sequence of bool
        Which of them are to get a lens; the others only see what the shelf would offer.
    tear_probability : sequence of float
        Of a capsule tear in each eye [1]: how likely its backup is needed.
    request : DayRequest
        Lens models, boxes and settings.
    knowledge : Knowledge

    Returns
    -------
    tuple of EyeLenses
        One an eye, in the order given.

    Notes
    -----
    Lenses are chosen before the cut is planned, because the cut depends on the lens. Sight without glasses is judged
    here by the cornea as it is; ``after_cut`` puts in the cornea as the planned cut will leave it.
    """
    if not eyes:
        return ()
    table = Table.build(eyes, request, knowledge)
    given = give_lenses(
        boxes=table.boxes,
        bag=table.placed[Placement.BAG],
        sulcus=table.placed[Placement.SULCUS],
        target_d=[eye.target_d for eye in eyes],
        accept_miss_d=request.settings.accept_miss_d,
        only_eye=[eye.only_eye for eye in eyes],
        knowledge=knowledge,
        backup_use=list(tear_probability),
        wants_bag=list(wanted),
        wants_backup=list(wanted),
        fixed_box=fixed_boxes(eyes, table.boxes, request.pins),
    )
    pinned = fixed_boxes(eyes, table.boxes, request.pins)
    given = lots_apart(eyes=eyes, given=given, boxes=table.boxes, kept=[box >= 0 for box in pinned])
    gone = Whereabouts(eyes, table.boxes, given)
    to_fetch = {
        Placement.BAG: given.bag_unmet,
        Placement.SULCUS: given.backup_unmet,
        Placement.CHAMBER: np.ones(len(eyes), dtype=np.bool_),
    }
    needs = {placement: fetch_list(table, placement, unmet, request) for placement, unmet in to_fetch.items()}
    guarded = np.array([eye.only_eye for eye in eyes]) | (
        np.asarray(tear_probability) >= knowledge.value("kit.tear.reserve_threshold")
    )
    found = [
        with_whereabouts(eye_lenses(table, given, needs, index, eye, guarded), gone) for index, eye in enumerate(eyes)
    ]
    apart = imbalance_flags(eyes, found, knowledge)
    both = both_eyes_flags(eyes=eyes, wanted=wanted, given=given, boxes=table.boxes)
    strong = strong_backups(table, found, gone, request)
    return tuple(
        replace(lenses, flags=(*lenses.flags, *more, *twice, *stronger))
        for lenses, more, twice, stronger in zip(found, apart, both, strong, strict=True)
    )


def with_whereabouts(lenses: EyeLenses, gone: Whereabouts) -> EyeLenses:
    """An eye's needs with who was given the lenses of that power."""
    told = tuple(
        replace(need, reason=" ".join(filter(None, (need.reason, gone.gone(model=need.model, power_d=need.power_d)))))
        for need in lenses.needs
    )
    return replace(lenses, needs=told)


def strong_backups(
    table: "Table", found: Sequence[EyeLenses], gone: Whereabouts, request: DayRequest
) -> list[tuple[Flag, ...]]:
    """For each eye, a caution where its backup is no weaker than the lens for its bag."""
    every: list[tuple[Flag, ...]] = [()] * len(found)
    for model in request.lenses:
        users = [index for index, lenses in enumerate(found) if lenses.backup and lenses.backup.model == model.name]
        if not users:
            continue
        wished = lens_needs(
            model=model, placement=Placement.SULCUS, biometry=table.biometry, target_d=table.target_d,
            policy=request.settings.formula, knowledge=table.knowledge,
        )  # fmt: skip
        for index in users:
            right = wished[index]
            where = "" if right is None else gone.gone(model=right.model, power_d=right.power_d)
            flag = strong_backup_flag(lens=found[index].lens, backup=found[index].backup, right=right, gone=where)
            every[index] = () if flag is None else (flag,)
    return every


def fixed_boxes(eyes: Sequence[ListedEye], boxes: Sequence[Box], pins: Sequence[Pin]) -> list[int]:
    """The place of the box that a person has fixed for each eye's bag; -1 for none."""
    place = {box.box_id: index for index, box in enumerate(boxes)}
    return [-1 if (box := pin_for(pins, eye.key).box_id) is None else place[box] for eye in eyes]


def after_cut(*, lenses: EyeLenses, cylinder: Cylinder) -> EyeLenses:
    """An eye's lenses with sight without glasses judged by the cornea that the planned cut will leave.

    Parameters
    ----------
    lenses : EyeLenses
    cylinder : Cylinder
        Of that eye after the cut: one row.

    Returns
    -------
    EyeLenses
        The same lenses. The one cut is taken for all of them, although a wider lens would need a longer one.
    """
    single = (lenses.lens, lenses.backup, lenses.chamber)
    listed = (*lenses.choices, *(choice for choice in single if choice is not None))
    renewed = dict(zip(map(id, listed), with_cylinder(choices=listed, cylinder=cylinder), strict=True))
    lens, backup, chamber = (None if choice is None else renewed[id(choice)] for choice in single)
    choices = tuple(renewed[id(choice)] for choice in lenses.choices)
    return replace(lenses, choices=choices, lens=lens, backup=backup, chamber=chamber)


@dataclass(frozen=True, slots=True)
class Table:
    """The shelf's usable boxes and the forecasts of each placement for the listed eyes, never mixed."""

    boxes: tuple[Box, ...]
    placed: Mapping[Placement, Forecast]
    odds: Mapping[Placement, Chances]
    biometry: Biometry
    target_d: tuple[float, ...]
    accept_miss_d: float
    policy: str
    knowledge: Knowledge

    @classmethod
    def build(cls, eyes: Sequence[ListedEye], request: DayRequest, knowledge: Knowledge) -> "Table":
        """Forecasts every lens on the shelf in every eye: in the bag, in the sulcus and in the chamber."""
        settings = request.settings
        boxes = usable(request.boxes, settings.day)
        models = {model.name: model for model in request.lenses}
        mean = np.array([eye.belief.mean for eye in eyes])
        covariance = np.array([eye.belief.covariance for eye in eyes])
        measured = np.array([eye.summary.chamber_depth_mm.readings > 0 for eye in eyes])
        placed = {
            placement: forecast(
                mean=mean,
                covariance=covariance,
                lenses=lenses_on_shelf(boxes=boxes, models=models, placement=placement),
                placement=placement,
                policy=settings.formula,
                knowledge=knowledge,
                depth_measured=measured,
            )
            for placement in Placement
        }
        target = tuple(eye.target_d for eye in eyes)
        crossed = [Coordinate.J0, Coordinate.J45]
        cylinder = Cylinder(mean[:, crossed], covariance[:, crossed][:, :, crossed])
        odds = {
            placement: chances(forecast=found, target_d=target, cylinder=cylinder)
            for placement, found in placed.items()
        }
        depth = np.where(measured, mean[:, Coordinate.CHAMBER_DEPTH], np.nan)
        biometry = Biometry(mean[:, Coordinate.AXIAL_LENGTH], mean[:, Coordinate.MEAN_K], depth)
        return cls(boxes, placed, odds, biometry, target, settings.accept_miss_d, settings.formula, knowledge)


def fetch_list(
    table: Table, placement: Placement, unmet: NDArray[np.bool_], request: DayRequest
) -> tuple[PowerNeed | None, ...]:
    """For each eye, what to ask for in a placement: the model of which the unit lists the most, first by name."""
    models = [model for model in request.lenses if can_sit(model=model, placement=placement)]
    if not models or not unmet.any():
        return (None,) * len(unmet)
    model = favourite(models, table.boxes)
    wanted = lens_needs(
        model=model,
        placement=placement,
        biometry=table.biometry,
        target_d=table.target_d,
        policy=request.settings.formula,
        knowledge=table.knowledge,
    )
    return tuple(need if missing else None for need, missing in zip(wanted, unmet, strict=True))


def favourite(models: Sequence[LensModel], boxes: Sequence[Box]) -> LensModel:
    """The model that the unit stocks most of; equal ones by name."""
    stock = {model.name: 0 for model in models}
    for box in boxes:
        if box.model in stock:
            stock[box.model] += box.count
    return min(models, key=lambda model: (-stock[model.name], model.name))


def eye_lenses(
    table: Table, given: Given, needs: dict[Placement, tuple[PowerNeed | None, ...]], index: int, eye: ListedEye,
    guarded: NDArray[np.bool_],
) -> EyeLenses:  # fmt: skip
    """The records of one eye."""
    lens = from_box(table, Placement.BAG, index, int(given.bag_lens[index]), int(given.bag_box[index]), eye)
    backup = from_box(table, Placement.SULCUS, index, int(given.backup_lens[index]), int(given.backup_box[index]), eye)
    if backup is None and given.backup_unmet[index]:
        backup = standing_by(table, Placement.SULCUS, given, index, eye, guarded)
    choices = list(nearest_choices(table, Placement.BAG, index, eye, SHOWN))
    if lens is not None:
        alike = {(choice.model, choice.power_d) for choice in choices}
        choices = [lens if (c.model, c.power_d) == (lens.model, lens.power_d) else c for c in choices]
        choices += [] if (lens.model, lens.power_d) in alike else [lens]
    chamber = standing_by(table, Placement.CHAMBER, given, index, eye, guarded)
    itself = None
    if lens is not None and backup is None and given.backup_unmet[index]:
        itself = in_sulcus(table, lens, int(given.bag_box[index]), index, eye)
    return EyeLenses(
        choices=tuple(choices),
        lens=lens,
        backup=backup,
        chamber=chamber,
        chamber_need=needs[Placement.CHAMBER][index] if chamber is None else None,
        needs=tuple(
            need
            for place, lacking in ((Placement.BAG, lens is None), (Placement.SULCUS, backup is None and itself is None))
            if lacking and (need := needs[place][index]) is not None
        ),
        flags=(
            *formula_flags(eye, lens, table.policy, table.knowledge),
            *(() if itself is None else (lens_itself_flag(itself=itself),)),
        ),
    )


def in_sulcus(table: Table, lens: LensChoice, box: int, index: int, eye: ListedEye) -> LensChoice | None:
    """The bag's own lens in the sulcus; ``None`` where it may not sit there or would miss by too much."""
    lenses = table.placed[Placement.SULCUS].lenses
    for column, power in enumerate(lenses.power_d.tolist()):
        if (lenses.model(column).name, power) == (lens.model, lens.power_d):
            itself = from_box(table, Placement.SULCUS, index, column, box, eye)
            return itself if itself is not None and abs(itself.miss_d) <= table.accept_miss_d else None
    return None


def standing_by(
    table: Table, placement: Placement, given: Given, index: int, eye: ListedEye, guarded: NDArray[np.bool_]
) -> LensChoice | None:
    """The best acceptable lens for a placement that no eye has in its bag, shared; ``None`` where there is none.

    The own backup of an only eye, or of one that is likely to need it, is offered only where there is no other.
    """
    in_bags = np.bincount(given.bag_box[given.bag_box >= 0], minlength=len(table.boxes))
    owned = given.backup_box[guarded & (given.backup_box >= 0)]
    spoken_for = in_bags + np.bincount(owned, minlength=len(table.boxes))
    return nearest_spare(table, placement, index, eye, spoken_for) or nearest_spare(
        table, placement, index, eye, in_bags
    )


def nearest_spare(
    table: Table, placement: Placement, index: int, eye: ListedEye, taken: NDArray[np.intp]
) -> LensChoice | None:
    """The best acceptable lens of a box that is not all taken."""
    placed = table.placed[placement]
    lenses = placed.lenses
    for column in nearest_lenses(forecast=placed, eye=index, target_d=eye.target_d, count=len(lenses.power_d)):
        if abs(placed.refraction_d[index, column] - eye.target_d) > table.accept_miss_d:
            return None
        kind = (lenses.model(int(column)).name, float(lenses.power_d[column]))
        for place, box in enumerate(table.boxes):
            if (box.model, box.power_d) == kind and box.count > taken[place]:
                return from_box(table, placement, index, int(column), place, eye, shared=True)
    return None


def from_box(
    table: Table, placement: Placement, index: int, column: int, box: int, eye: ListedEye, *, shared: bool = False
) -> LensChoice | None:
    """The lens of a box in an eye; ``None`` where none was given."""
    if box < 0:
        return None
    given = table.boxes[box]
    return lens_choice(
        forecast=table.placed[placement], chances=table.odds[placement], eye=index, lens=column, target_d=eye.target_d,
        box_id=given.box_id, expires=given.expires, price=given.price, shared=shared,
    )  # fmt: skip


def nearest_choices(
    table: Table, placement: Placement, index: int, eye: ListedEye, count: int | None
) -> tuple[LensChoice, ...]:
    """The lenses nearest an eye's target, as their first-expiring boxes would supply them; all for ``None``."""
    placed = table.placed[placement]
    lenses = placed.lenses
    first: dict[tuple[str, float], int] = {}
    for place, box in enumerate(table.boxes):
        first.setdefault((box.model, box.power_d), place)
    wanted = len(lenses.power_d) if count is None else count
    columns = nearest_lenses(forecast=placed, eye=index, target_d=eye.target_d, count=wanted).tolist()
    kinds = [(lenses.model(column).name, float(lenses.power_d[column])) for column in columns]
    found = [
        from_box(table, placement, index, column, first[kind], eye) for column, kind in zip(columns, kinds, strict=True)
    ]
    return tuple(choice for choice in found if choice is not None)


def imbalance_flags(
    eyes: Sequence[ListedEye], found: Sequence[EyeLenses], knowledge: Knowledge
) -> list[tuple[Flag, ...]]:
    """For each eye, a caution where it and its fellow would be left far apart; none for an only seeing eye."""
    planned = {
        (eye.person.person_id, eye.side): lenses.lens.refraction_d
        for eye, lenses in zip(eyes, found, strict=True)
        if lenses.lens is not None
    }
    every: list[tuple[Flag, ...]] = []
    for eye in eyes:
        mine = planned.get((eye.person.person_id, eye.side), eye.target_d)
        fellow = eye.person.eye(eye.side.other)
        theirs, words = planned.get((eye.person.person_id, eye.side.other)), "is expected to end at"
        if theirs is None and fellow is not None:
            theirs, words = fellow.refraction_d, "has"
        flag = None
        if theirs is not None and not eye.only_eye:
            flag = imbalance_flag(refraction_d=mine, fellow_d=theirs, fellow_words=words, knowledge=knowledge)
        every.append(() if flag is None else (flag,))
    return every


def formula_flags(eye: ListedEye, lens: LensChoice | None, policy: str, knowledge: Knowledge) -> tuple[Flag, ...]:
    """What to say about the formulas behind the given lens."""
    if lens is None:
        return ()
    keys = lens.formula.split(" + ")
    found = list(
        range_flags(
            axial_length_mm=eye.summary.axial_length_mm.value,
            mean_k_d=eye.summary.mean_k_d.value,
            keys=keys,
            knowledge=knowledge,
        )
    )
    refractions = [entry.refraction_d for entry in lens.formulas]
    said = (
        stand_in_flag(policy=policy, keys=keys),
        disagreement_flag(refractions_d=refractions, knowledge=knowledge),
    )
    return (*found, *(flag for flag in said if flag is not None))
