"""The planned day: everything that a sheet or a screen shows, and nothing that it must compute."""

from dataclasses import dataclass
from datetime import date, time
from enum import Enum

from ..eye.person import Cataract, Sex
from ..eye.summary import EyeSummary
from ..knowledge.advice import Flag, Reason
from ..knowledge.number import Basis
from ..lens.choice import LensChoice
from ..optics.side import Side
from ..risk.advice import OperatorAdvice, RiskEstimate, TechniqueAdvice, TrolleyItem
from ..risk.team import Grade
from ..shelf.needs import PowerNeed
from ..wound.access import SiteAccess
from ..wound.nucleus import NucleusBelief
from ..wound.plan import WoundPlan
from ..wound.technique import Technique

__all__ = [
    "CostLine",
    "CutGrounds",
    "DayMoney",
    "DayPlan",
    "DoseLine",
    "EyeMoney",
    "EyePlan",
    "FinishBand",
    "GivesWay",
    "KitItem",
    "MoveFirst",
    "PinCost",
    "PowerNeed",
    "ReadinessItem",
    "Reading",
    "ReadyState",
    "Remeasurement",
    "SetAside",
    "ShelfRow",
    "Slot",
    "Taught",
    "TonightItem",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """A measurement as it stood in the unit's file, for the sheet."""

    quantity: str
    value: float
    unit: str
    method: str
    axis_deg: float | None
    as_written: str


@dataclass(frozen=True, slots=True)
class KitItem:
    """Something to lay out."""

    name: str
    quantity: float
    unit: str
    why: str
    contingency: bool
    """True for what is kept closed on the trolley unless needed."""
    probability: float = 1.0
    """How likely it is to be used in this eye; 1 for what is certain, and for the list."""
    expected_use: float | None = None
    """On the list: how much is expected to be used, contingencies at their probability."""
    in_stock: float | None = None
    """On the list: what the unit has; ``None`` where it gave no count."""
    short: float = 0.0
    """On the list: how much is wanting to have ``quantity`` ready."""


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of the cost; ``amount`` is ``None`` where the unit gave no price."""

    name: str
    amount: float | None


@dataclass(frozen=True, slots=True)
class EyeMoney:
    """What one eye costs and who pays; amounts in the unit's currency."""

    cost: float
    """Of the certain kit and the lens, as far as priced."""
    contingency_cost: float
    """Expected cost of what may be needed, as far as priced."""
    unpriced: tuple[str, ...]
    """Kit without a price, which the cost leaves out."""
    fee: float | None
    """The unit's full fee for the operation and lens; ``None`` without a tariff."""
    share: float
    """Share of it that this patient pays, 0 to 1."""
    pays: float | None
    subsidy: float | None
    """What the unit bears: cost and expected contingencies less what is paid; below 0 where the fee exceeds them."""
    alternative: Technique | None
    alternative_cost: float | None
    """Of the alternative operation with the same lens, as far as priced."""
    alternative_pays: float | None
    alternative_unpriced: tuple[str, ...] = ()
    """Kit of the alternative without a price, which its cost leaves out."""


@dataclass(frozen=True, slots=True)
class DayMoney:
    """What the list costs and who pays; amounts in the unit's currency."""

    cost: float
    contingency_cost: float
    per_case: float | None
    """Cost and expected contingencies over the eyes on the list; ``None`` for an empty list."""
    pays: float
    """What the patients with a known payment pay together."""
    subsidy: float
    """What the unit bears for the same patients."""
    without_tariff: int
    """Eyes for whose operation there is no fee."""


@dataclass(frozen=True, slots=True)
class DoseLine:
    """A drug with its largest dose; never an order, and never filled in as one."""

    drug: str
    use: str
    usual: str
    """In words."""
    maximum_mg: float | None
    """For this person's weight; ``None`` where the weight is not recorded."""
    maximum_ml: float | None
    strength: str
    rule: str
    """How the largest dose comes about, in words."""
    source: str
    basis: Basis
    caution: str


class ReadyState(Enum):
    """Where one item of the readiness list stands."""

    STOP = "stop"
    """Do not begin."""
    WARN = "warn"
    """Begin only after thought."""
    TO_DO = "to do"
    """Not recorded yet."""
    DONE = "done"


@dataclass(frozen=True, slots=True)
class ReadinessItem:
    """One thing to settle before the knife."""

    code: str
    label: str
    state: ReadyState
    message: str
    """What was found, with the number in it."""
    action: str
    """What to do; empty when done."""
    source: str
    basis: Basis
    value: float | None = None
    limit: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class CutGrounds:
    """What every cut of this eye is weighed with, so that another one can be tried against the planned one."""

    j0_d: float
    """Mean of the cornea's J0; above 0 where it is steeper at 0 or 180."""
    j45_d: float
    j0_variance_d2: float
    j45_variance_d2: float
    covariance_d2: float
    """Of J0 with J45."""
    nucleus: NucleusBelief
    sites: tuple[SiteAccess, ...]
    """Sites open to this operation with what counts against each."""
    closed: tuple[Reason, ...]
    """Why other sites are closed."""
    bleb: bool = False
    """A filtering bleb is recorded; its clock hour is not, nor that of the next two."""
    pterygium: bool = False
    fibrosed_capsule: bool = False


@dataclass(frozen=True, slots=True)
class Slot:
    """When and where."""

    order: int
    table: int
    starts: time
    ends: time
    minutes: float
    block_at: time | None = None
    """When the block is due at the latest; ``None`` for general anaesthesia."""


@dataclass(frozen=True, slots=True)
class EyePlan:
    """The plan for one eye."""

    key: str
    """Stable within the plan and safe in an address: ``<person_id>-right`` with unusual characters replaced."""
    person_id: str
    name: str
    age_years: float | None
    sex: Sex | None
    side: Side
    only_eye: bool
    cataract: Cataract | None
    acuity: str
    """As written."""
    note: str
    readings: tuple[Reading, ...]
    belief: EyeSummary
    flags: tuple[Flag, ...]
    target_d: float
    choices: tuple[LensChoice, ...]
    """Bag lenses on the shelf nearest the target, best first, whether or not they were given elsewhere."""
    lens: LensChoice | None
    backup: LensChoice | None
    """For the sulcus: this eye's own, or one that stands by for several eyes where it says ``shared``."""
    chamber_need: PowerNeed | None
    needs: tuple[PowerNeed, ...]
    """What to fetch when the shelf has no acceptable lens or backup."""
    risk: RiskEstimate
    technique: TechniqueAdvice
    operator: OperatorAdvice
    wound: WoundPlan | None
    """``None`` when the eye is to be referred."""
    kit: tuple[KitItem, ...]
    cost: tuple[CostLine, ...]
    slot: Slot | None
    """``None`` when the eye is not on the list: referred, stopped, or past the end of the day."""
    off_list: str
    """Why it is not on the list; empty when it is."""
    chamber: LensChoice | None = None
    """The chamber lens on the shelf nearest the target: it stands by for all and is promised to none."""
    trolley: tuple[TrolleyItem, ...] = ()
    """What to have open or closed beside the case because of what may happen, most likely first."""
    money: EyeMoney | None = None
    doses: tuple[DoseLine, ...] = ()
    readiness: tuple[ReadinessItem, ...] = ()
    """What to settle before the knife: stops, warnings, what is to do, what is done."""
    cut_grounds: CutGrounds | None = None
    """``None`` when the eye is to be referred."""


@dataclass(frozen=True, slots=True)
class TonightItem:
    """One thing to sort out before morning, worst first."""

    severity: str
    """A ``Severity`` value."""
    eye_key: str | None
    """``None`` when it concerns the day."""
    message: str
    action: str


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row or cell of the unit's files that could not be read, so that the plan was made without it."""

    where: str
    """File, sheet, row and column."""
    what: str
    """What was found there and why it could not be used."""
    accepted: str
    person_id: str = ""
    """The person the row is about; empty where it names none."""
    name: str = ""
    side: Side | None = None
    quantity: str = ""
    """The reading that was lost: ``axial length``; empty for anything else."""
    left_out: bool = False
    """True for the whole row of a person or an eye."""


@dataclass(frozen=True, slots=True)
class Remeasurement:
    """What measuring one thing of one eye again tonight would buy."""

    eye_key: str
    what: str
    """The quantity: ``axial length``."""
    method: str
    """How: ``optical``, ``contact ultrasound``."""
    readings: int
    """How many."""
    sees_6_12: float
    """Probability of 6/12 or better without glasses with the best lens on the shelf as things stand."""
    gain: float
    """By how much the readings are expected to raise it."""
    words: str
    """One plain sentence."""


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One box as the plan leaves it."""

    box_id: str
    model: str
    power_d: float
    count: int
    given: int
    expires: date | None
    lot: str
    serial: str
    location: str
    price: float | None
    given_to: tuple[str, ...]
    """Eye keys."""
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True)
class Taught:
    """A learner with the eyes that the day teaches them on."""

    name: str
    grade: Grade
    wanted: int
    """Teaching cases asked for."""
    eyes: tuple[str, ...]
    """Eye keys."""
    supervisors: tuple[str, ...]
    extra_tears: float
    """Expected tears beyond senior hands on these eyes."""
    words: str


@dataclass(frozen=True, slots=True)
class FinishBand:
    """By when the list is over in a share of simulated days."""

    share: float
    """0.5, 0.8 or 0.95."""
    by: time


@dataclass(frozen=True, slots=True)
class MoveFirst:
    """The eye whose move to another day lowers the chance of overtime most."""

    eye_key: str
    overtime_chance: float
    """Chance of overtime without it."""
    words: str


@dataclass(frozen=True, slots=True)
class GivesWay:
    """A rule that the list breaks, or would have to break to end in time, with its slack."""

    rule: str
    """``day-end``, ``pinned-time``, ``part-of-day``, ``instrument-sets``, ``turnover`` or ``tables``."""
    amount: float
    unit: str
    """``min``, ``sets``, ``tables`` or ``pairs``."""
    words: str
    eye_key: str | None
    """``None`` when it concerns the day."""
    proposed: bool
    """True for a way to end in time, each enough by itself; False for what is broken as planned."""


@dataclass(frozen=True, slots=True)
class PinCost:
    """What a choice fixed by hand costs against the same day planned without it."""

    eye_key: str
    fixed: str
    """In words."""
    finish_min: float
    """Minutes by which the list ends later."""
    tears: float
    """Expected capsule tears more."""
    miss_d: float
    """Dioptres more from target, summed over the eyes that have a lens either way."""
    without_lens: int
    """Eyes more without a lens."""
    words: str


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A whole day, self-contained: it can be printed, shown and compared without the inputs."""

    format_version: int
    program_version: str
    knowledge_version: str
    inputs_sha256: str
    seed: int
    unit: str
    day: date
    starts: time
    ends: time
    tables: int
    finishes: time | None
    overtime_min: float
    eyes: tuple[EyePlan, ...]
    """In the order of the list; eyes off the list last."""
    tonight: tuple[TonightItem, ...]
    kit: tuple[KitItem, ...]
    cost: tuple[CostLine, ...]
    currency: str
    shelf: tuple[ShelfRow, ...]
    team: tuple[str, ...]
    expected_tears: float
    """Sum of the eyes' probabilities of a capsule tear."""
    remeasure: tuple[Remeasurement, ...] = ()
    """What is worth measuring again tonight, the most worthwhile first."""
    all_senior_tears: float | None = None
    """Expected tears of the same list if senior surgeons did every eye."""
    training_cost_tears: float | None = None
    """Expected tears that the teaching cases add to it."""
    harm_margin: float | None = None
    """Share by which the day's expected tears may exceed those of the all-senior day."""
    taught: tuple[Taught, ...] = ()
    """Every learner who wants cases, with those the day gives."""
    money: DayMoney | None = None
    set_aside: tuple[SetAside, ...] = ()
    """What could not be read of the files that the plan was made from."""
    finish_bands: tuple[FinishBand, ...] = ()
    """By when the list is over on half, four fifths and nineteen in twenty of simulated days."""
    overtime_chance: float | None = None
    """Share of simulated days that run past the wished end."""
    move_first: MoveFirst | None = None
    gives_way: tuple[GivesWay, ...] = ()
    schedule_method: str = ""
    """How the order was found."""
    schedule_gap: float | None = None
    """Share by which a better order could at most lower the list's cost, 0 to 1."""
    pin_costs: tuple[PinCost, ...] = ()
