"""What was found in an eye, in the terms of the published models: present, absent, or not recorded."""

from dataclasses import dataclass

from ..eye.person import Cataract, EyeRecord, Person, Pupil, Sex
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge
from ..optics.acuity import AcuityKind

__all__ = ["Finding", "findings", "is_dense"]

WHITE = {Cataract.WHITE, Cataract.INTUMESCENT, Cataract.HYPERMATURE}

AGE_BANDS = (
    ("age_60_69", "Age 60 to 69", 60, 70),
    ("age_70_79", "Age 70 to 79", 70, 80),
    ("age_80_89", "Age 80 to 89", 80, 90),
    ("age_90_over", "Age 90 or over", 90, 1000),
)
"""Key in the data, label, from and below which age [years], as the first national model cuts them."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding that some model counts."""

    label: str
    gap: str
    """What is missing, in words, when it was not recorded."""
    present: bool | None
    """``None`` when it was not recorded."""


def is_dense(record: EyeRecord, knowledge: Knowledge) -> bool:
    """Brown or white by its kind, or by its nuclear grade where the kind was not written down.

    Parameters
    ----------
    record : EyeRecord
    knowledge : Knowledge
        Holds ``risk_pcr.toml``.

    Returns
    -------
    bool
    """
    if record.cataract is not None:
        return record.cataract.dense
    limit = knowledge.value("risk_pcr.narendran2009.brunescent_grade")
    return record.nucleus_grade is not None and record.nucleus_grade >= limit


def findings(*, person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge) -> dict[str, Finding]:
    """Every finding that a model may count, by its key in the data.

    Parameters
    ----------
    person : Person
        Age, sex, medicines, posture.
    record : EyeRecord
        Findings of the eye.
    summary : EyeSummary
        Axial length; one that was not measured in this eye counts as not recorded, but a long belief still counts.
    knowledge : Knowledge
        Holds the limits in ``risk_pcr.toml``.

    Returns
    -------
    dict of str to Finding
        In the order in which a sheet would tell them.

    Notes
    -----
    Pseudoexfoliation and phacodonesis are one finding. A cataract whose kind is not recorded counts as brunescent from
    a nuclear grade on (common practice). The alpha-blocker of the sources is doxazosin; the class is taken alike.
    Retinopathy is absent in a person recorded as not diabetic.
    """
    hidden = None if record.fundus_seen is None else not record.fundus_seen
    age, male = person.age_years, None if person.sex is None else person.sex is Sex.MALE
    long_from = knowledge.value("risk_pcr.narendran2009.axial_length_long_mm")
    length = summary.axial_length_mm
    no_kind = record.cataract is None and record.nucleus_grade is None
    young = (
        None if age is None or male is None else male and age < knowledge.value("risk_pcr.sim2024.young_below_years")
    )
    retinopathy = False if record.diabetic_retinopathy is None and person.diabetic is False else None
    found = {
        key: Finding(label, "age", None if age is None else low <= age < high) for key, label, low, high in AGE_BANDS
    }
    kind = "kind of cataract"
    found |= {
        "male": Finding("Male", "sex", male),
        "young_male": Finding("Younger man", "age and sex", young),
        "dense_cataract": Finding("Brown or white cataract", kind, None if no_kind else is_dense(record, knowledge)),
        "white_cataract": Finding(
            "White cataract", kind, None if record.cataract is None else record.cataract in WHITE
        ),
        "pseudoexfoliation_phacodonesis": Finding(
            "Pseudoexfoliation or trembling lens", "pseudoexfoliation or trembling lens",
            either(record.pseudoexfoliation, record.phacodonesis),
        ),
        "no_fundus_view": Finding("No view of the fundus", "view of the fundus", hidden),
        "diabetic_retinopathy": Finding(
            "Diabetic retinopathy", "diabetic retinopathy",
            retinopathy if record.diabetic_retinopathy is None else record.diabetic_retinopathy,
        ),
        "alpha_blocker": Finding("Alpha-blocker", "alpha-blocker", person.alpha_blocker),
        "axial_length_long": Finding(
            f"Axial length {long_from:g} mm or more", "axial length of this eye",
            True if length.value >= long_from else (False if length.readings else None),
        ),
        "glaucoma": Finding("Glaucoma", "glaucoma", record.glaucoma),
        "cannot_lie_flat": Finding("Cannot lie flat", "can lie flat", person.cannot_lie_flat),
        "corneal_scar": Finding("Corneal opacity", "corneal scar", record.corneal_scar),
        "poor_acuity": Finding(
            "Acuity worse than 6/60", "acuity", poor(record, knowledge.value("risk_pcr.segers2022.poor_acuity_logmar"))
        ),
        "pupil_medium": Finding("Medium pupil", "pupil", of_pupil(record, Pupil.MEDIUM)),
        "pupil_small": Finding("Small pupil", "pupil", of_pupil(record, Pupil.SMALL)),
    }  # fmt: skip
    return found


def either(first: bool | None, second: bool | None) -> bool | None:
    """Present when one is, absent when one is known absent and none present, else not recorded."""
    if first or second:
        return True
    return None if first is None and second is None else False


def of_pupil(record: EyeRecord, size: Pupil) -> bool | None:
    """Whether the pupil has this size."""
    return None if record.pupil is None else record.pupil is size


def poor(record: EyeRecord, worse_than_logmar: float) -> bool | None:
    """Whether acuity is worse than a line; all that is below the chart is."""
    if record.acuity is None:
        return None
    if record.acuity.kind is AcuityKind.LETTERS:
        return record.acuity.logmar is not None and record.acuity.logmar > worse_than_logmar
    return True
