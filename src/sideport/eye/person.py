"""The person and the eye on the list: who, what was found, what was measured. ``None`` means not recorded."""

from dataclasses import dataclass
from enum import Enum

from ..optics.acuity import Acuity
from ..optics.side import Side
from .measurement import Measurement

__all__ = ["Cataract", "EyeRecord", "Person", "Pupil", "Sex"]


class Sex(Enum):
    """Sex as the published models use it."""

    FEMALE = "female"
    MALE = "male"


class Cataract(Enum):
    """The cataract as the surgeon calls it."""

    IMMATURE = "immature"
    WHITE = "white"
    """Mature, no red reflex."""
    INTUMESCENT = "intumescent"
    """White, swollen, under pressure."""
    BROWN = "brown"
    BLACK = "black"
    HYPERMATURE = "hypermature"
    """Liquefied cortex, the nucleus may be free (Morgagnian)."""
    NONE = "none"
    """No cataract, or already operated."""

    @property
    def dense(self) -> bool:
        """Counts as brunescent, white or total in the published risk models."""
        return self in {Cataract.WHITE, Cataract.INTUMESCENT, Cataract.BROWN, Cataract.BLACK, Cataract.HYPERMATURE}


class Pupil(Enum):
    """The dilated pupil."""

    LARGE = "large"
    MEDIUM = "medium"
    SMALL = "small"


@dataclass(frozen=True, slots=True)
class EyeRecord:
    """One eye of a person: findings and readings. The fellow eye has a record too where anything is known of it."""

    side: Side
    listed: bool
    """True when this eye is to be operated on the day."""
    cataract: Cataract | None = None
    nucleus_grade: float | None = None
    """LOCS III nuclear opalescence, 0.1 to 6.9."""
    acuity: Acuity | None = None
    """Presenting distance acuity."""
    refraction_d: float | None = None
    """Spherical equivalent of the present refraction; of an operated eye, the result of its lens."""
    pressure_mmhg: float | None = None
    pupil: Pupil | None = None
    pseudoexfoliation: bool | None = None
    phacodonesis: bool | None = None
    """The lens trembles: a weak zonule."""
    fibrosed_capsule: bool | None = None
    fundus_seen: bool | None = None
    diabetic_retinopathy: bool | None = None
    glaucoma: bool | None = None
    corneal_scar: bool | None = None
    vitrectomy: bool | None = None
    bleb: bool | None = None
    """A filtering bleb from glaucoma surgery."""
    pterygium: bool | None = None
    deep_set: bool | None = None
    infected: bool | None = None
    """Lid, conjunctival or lacrimal infection."""
    target_d: float | None = None
    """Wished spherical equivalent; ``None`` leaves it to the unit's policy."""
    measurements: tuple[Measurement, ...] = ()
    note: str = ""
    implanted_power_d: float | None = None
    """Labelled power of the lens that the eye already has; ``refraction_d`` is then its result."""
    implanted_a_constant: float | None = None
    """A-constant of that lens; ``None`` where the model is not known."""
    marked: bool | None = None
    """The side is marked on the skin."""
    sac_patent: bool | None = None
    """Syringing passes freely; False when fluid or pus comes back."""
    bscan_normal: bool | None = None
    """Ultrasound of the back of the eye, where the fundus cannot be seen."""
    light_projection: bool | None = None
    """Light is seen and told in all four quadrants."""
    pupil_defect: bool | None = None
    """A relative afferent pupillary defect."""


@dataclass(frozen=True, slots=True)
class Person:
    """One person on the register with both eyes as far as known."""

    person_id: str
    name: str
    eyes: tuple[EyeRecord, ...]
    """One or two records, never two of one side."""
    age_years: float | None = None
    sex: Sex | None = None
    phone: str = ""
    place: str = ""
    weight_kg: float | None = None
    diabetic: bool | None = None
    alpha_blocker: bool | None = None
    anticoagulant: bool | None = None
    cannot_lie_flat: bool | None = None
    blood_borne_infection: bool | None = None
    only_eye: Side | None = None
    """The only seeing eye, where the other cannot see."""
    note: str = ""
    identity_checked: bool | None = None
    """Two identifiers agree with the record."""
    consent: bool | None = None
    systolic_mmhg: float | None = None
    diastolic_mmhg: float | None = None
    sugar_mmol_l: float | None = None
    inr: float | None = None
    """Clotting ratio of a person on an anticoagulant."""
    allergy: bool | None = None
    pays_share: float | None = None
    """Share of the unit's fee that the person pays, 0 to 1; ``None`` leaves it to the unit's usual share."""

    def eye(self, side: Side) -> EyeRecord | None:
        """The record of one side, or ``None`` where nothing is known."""
        return next((eye for eye in self.eyes if eye.side is side), None)
