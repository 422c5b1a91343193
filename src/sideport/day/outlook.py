"""Both eyes of one person: what is believed of each, what is unusual, and what every lens on the shelf would do."""

from dataclasses import dataclass

from ..eye.belief import believe
from ..eye.describe import summarise
from ..eye.person import EyeRecord, Person
from ..eye.quality import quality_flags
from ..eye.summary import EyeSummary
from ..knowledge import Flag, Knowledge
from ..lens.choice import LensChoice
from ..lens.model import Placement
from ..optics.side import Side
from .case import ListedEye
from .lenses import shelf_choices
from .set_aside import stopped_without_length
from .settings import DayRequest
from .target import unit_target

__all__ = ["EyeOutlook", "outlook"]


@dataclass(frozen=True, slots=True)
class EyeOutlook:
    """One eye, whether or not it is to be operated on."""

    side: Side
    listed: bool
    target_d: float
    belief: EyeSummary
    flags: tuple[Flag, ...]
    bag: tuple[LensChoice, ...]
    """Every lens on the shelf that may go into the bag, nearest the target first."""
    sulcus: tuple[LensChoice, ...]
    chamber: tuple[LensChoice, ...]


def outlook(*, person: Person, request: DayRequest, knowledge: Knowledge) -> tuple[EyeOutlook, EyeOutlook]:
    """Belief, flags and forecasts for both eyes of one person.

    Parameters
    ----------
    person : Person
        Need not be on the request's register.
    request : DayRequest
        Lens models, boxes and settings.
    knowledge : Knowledge

    Returns
    -------
    tuple of EyeOutlook
        The right eye, then the left; an eye without a record is believed from its fellow and the population.

    Notes
    -----
    Nothing is given to anybody: a lens may be planned for another eye. Sight without glasses is judged by the cornea as
    it is, before any cut.
    """
    belief = believe([person], population=request.settings.population, knowledge=knowledge)
    flags = quality_flags([person], belief, knowledge)[0]
    eyes = []
    for side in (Side.RIGHT, Side.LEFT):
        record = person.eye(side) or EyeRecord(side=side, listed=False)
        eye = belief.eye(0, side)
        target = unit_target(request.settings, knowledge) if record.target_d is None else record.target_d
        summary = summarise(person, side, eye.mean, eye.covariance, belief.suspicions_of(0))
        eyes.append(ListedEye(person, record, eye, summary, flags.get(side, ()), target))
    right, left = (
        EyeOutlook(
            side=eye.side,
            listed=eye.record.listed,
            target_d=eye.target_d,
            belief=eye.summary,
            flags=(*(stopped_without_length(eye.flags) if eye.record.listed else eye.flags), *found.flags),
            bag=found.lenses[Placement.BAG],
            sulcus=found.lenses[Placement.SULCUS],
            chamber=found.lenses[Placement.CHAMBER],
        )
        for eye, found in zip(eyes, shelf_choices(eyes=eyes, request=request, knowledge=knowledge), strict=True)
    )
    return right, left
