"""Persons and their eyes out of the rows of the register, or of the patients and eyes sheets."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from typing import Any

from ..eye.measurement import Measurement
from ..eye.person import EyeRecord, Person, Sex
from ..knowledge import load_published
from ..optics.side import Side
from .columns import Table, normalised
from .findings import Findings
from .readings import Repeats, measurement_of, readings_of_row, with_register
from .rows import Row

__all__ = ["gather_people"]

EYE_FIELDS = (
    "cataract", "nucleus_grade", "acuity", "pressure_mmhg", "pupil", "pseudoexfoliation", "phacodonesis",
    "fibrosed_capsule", "fundus_seen", "diabetic_retinopathy", "glaucoma", "corneal_scar", "vitrectomy", "bleb",
    "pterygium", "deep_set", "infected", "target_d", "marked", "sac_patent", "bscan_normal", "light_projection",
    "pupil_defect", "refraction_d", "implanted_power_d", "implanted_a_constant",
)  # fmt: skip
PERSON_FIELDS = (
    "name", "age_years", "sex", "phone", "place", "weight_kg", "diabetic", "alpha_blocker", "anticoagulant",
    "cannot_lie_flat", "blood_borne_infection", "only_eye", "person_note", "identity_checked", "consent",
    "systolic_mmhg", "diastolic_mmhg", "sugar_mmol_l", "inr", "allergy", "pays_share",
)  # fmt: skip
IDENTITY = {"name": "names", "age_years": "ages", "sex": "sexes"}
"""What tells one person from another, with its plural."""


@dataclass(slots=True)
class Dossier:
    """Everything that the sheets say about one patient number."""

    number: str
    people: list[tuple[Row, dict[str, Any]]] = field(default_factory=list)
    eyes: dict[Side, list[tuple[Row, EyeRecord]]] = field(default_factory=lambda: defaultdict(list))
    readings: dict[Side, list[Measurement]] = field(default_factory=lambda: defaultdict(list))
    rows: list[Row] = field(default_factory=list)
    repeats: Repeats = field(default_factory=Repeats)


def gather_people(
    rows: Mapping[Table, Sequence[Row]], *, day: date, keratometer_index: float | None, findings: Findings
) -> tuple[Person, ...]:
    """The persons on the sheets, each with the eyes that something is known of.

    Parameters
    ----------
    rows : mapping of Table to rows
        Of the register, patients, eyes and measurements.
    day : date
        Operating day, for ages from dates of birth.
    keratometer_index : float or None
        Index of the unit's keratometer; ``None`` for the convention.
    findings : Findings
        Takes what was set aside.

    Returns
    -------
    tuple of Person
        In the order of first appearance.
    """
    dossiers: dict[str, Dossier] = {}
    operates = says_yes(rows.get(Table.REGISTER, ())) | says_yes(rows.get(Table.EYES, ()))
    for table in (Table.PATIENTS, Table.REGISTER, Table.EYES):
        for row in rows.get(table, ()):
            read_row(
                row, table, dossiers, day=day, index=keratometer_index, blank_is_listed=row.sheet_key not in operates
            )
    for row in rows.get(Table.MEASUREMENTS, ()):
        read_measurement(row, dossiers, index=keratometer_index)
    people = (person_of(dossier, findings) for dossier in dossiers.values())
    return tuple(person for person in people if person is not None)


def says_yes(rows: Iterable[Row]) -> set[tuple[str, str]]:
    """The sheets in which some row's ``Operate`` cell says yes, so that a blank one means no."""
    return {row.sheet_key for row in rows if row.quietly("listed") is True}


def read_row(
    row: Row, table: Table, dossiers: dict[str, Dossier], *, day: date, index: float | None, blank_is_listed: bool
) -> None:
    """Puts one row of the register, patients or eyes sheet into its dossier, or sets it aside."""
    number = row.take("person_id")
    if number is None:
        row.set_aside("has no patient number", "the unit's number for the person, the same on every sheet")
        return
    side = None
    if table is not Table.PATIENTS:
        side = row.side or row.take("side")
        if side is None:
            if not row.text("side"):
                row.set_aside("does not say which eye", "R or L (RE, LE, OD, OS, right, left) under Eye")
            return
    dossier = dossiers.setdefault(key_of(number), Dossier(number))
    dossier.rows.append(row)
    if table is not Table.EYES:
        dossier.people.append((row, person_values(row, side, day)))
    if side is not None:
        dossier.eyes[side].append((row, eye_record(row, side, index, blank_is_listed=blank_is_listed)))


@lru_cache(maxsize=50_000)
def key_of(number: str) -> str:
    """A patient number without case and spacing; its other signs count."""
    return "".join(number.casefold().split())


def person_values(row: Row, side: Side | None, day: date) -> dict[str, Any]:
    """What a row says of the person."""
    values = {key: value for key in PERSON_FIELDS if key in row.cells and (value := row.take(key)) is not None}
    only = values.get("only_eye")
    if only is True and side is None:
        row.set_aside("does not say which eye", "R or L", key="only_eye")
    if only is True:
        values["only_eye"] = side
    milligrams = row.take("sugar_mg_dl")
    if milligrams is not None:
        values.setdefault("sugar_mmol_l", milligrams / load_published().value("readiness.mg_dl_per_mmol_l"))
    born = row.take("born_on")
    if born is not None:
        if born > day:
            row.set_aside("is after the operating day", "the date of birth, the year in four digits", key="born_on")
        elif "age_years" not in values:
            values["age_years"] = float(day.year - born.year - ((day.month, day.day) < (born.month, born.day)))
    return values


def eye_record(row: Row, side: Side, index: float | None, *, blank_is_listed: bool) -> EyeRecord:
    """What a row says of the eye, with the readings that stand in the row itself."""
    listed = row.take("listed") if row.listed is not False else False
    if listed is None:
        listed = row.listed if row.listed is not None else blank_is_listed and not row.text("listed")
    found = {key: row.take(key) for key in EYE_FIELDS if key in row.cells}
    note = row.take("eye_note") or ""
    return EyeRecord(side, listed, **found, measurements=readings_of_row(row, side, index), note=note)


def read_measurement(row: Row, dossiers: dict[str, Dossier], *, index: float | None) -> None:
    """Puts one row of the measurements sheet into its dossier, or sets it aside."""
    number = row.take("person_id")
    if number is None:
        row.set_aside("has no patient number", "the unit's number for the person, the same on every sheet")
        return
    dossier = dossiers.get(key_of(number))
    if dossier is None:
        row.set_aside("belongs to a patient number that no other sheet has, or whose row was set aside",
                      "a number of the register or the patients sheet", key="person_id")  # fmt: skip
        return
    side = row.side or row.take("side")
    if side is None:
        if not row.text("side"):
            row.set_aside("does not say which eye", "R or L under Eye")
        return
    dossier.rows.append(row)
    reading = measurement_of(row, side, index, dossier.repeats)
    if reading is not None:
        dossier.readings[side].append(reading)


def person_of(dossier: Dossier, findings: Findings) -> Person | None:
    """One person, or ``None`` with every row listed when the number cannot stand for one person with an eye."""
    problem = contradiction(dossier)
    if problem is not None:
        for row in dossier.rows:
            row.set_aside(*problem)
        return None
    values = merged(dossier)
    eyes = [record for side in Side if (record := eye_of(dossier, side, findings)) is not None]
    if not eyes:
        for row, _ in dossier.people:
            if not any(row is other for rows in dossier.eyes.values() for other, _ in rows):
                row.set_aside("has no eye on any sheet that could be read", "a row for the eye on the eyes sheet")
        return None
    note = values.pop("person_note", "")
    return Person(dossier.number, eyes=tuple(eyes), note=note, **values)


def contradiction(dossier: Dossier) -> tuple[str, str] | None:
    """Why the rows of one number are not one named person; name, age and sex identify."""
    named = [(row, values["name"]) for row, values in dossier.people if "name" in values]
    if not named:
        return f"belongs to patient number {dossier.number}, which has no name", "the person's name in one row at least"
    if len(dossier.people) == 1:
        return None
    for key, label in IDENTITY.items():
        said = {spelled(values[key]): row for row, values in dossier.people if values.get(key) is not None}
        if len(said) > 1:
            places = " and ".join(f"{word!r} in {row.place()}" for word, row in list(said.items())[:2])
            return (
                f"shares patient number {dossier.number} with another person, by their {label}: {places}",
                "one number a person; if it is one person, the same name, age and sex in every row",
            )
    return None


def spelled(value: object) -> str:
    """A name, age or sex so that only real differences count."""
    if isinstance(value, Sex):
        return value.value
    return normalised(value) if isinstance(value, str) else f"{value:g}"


def merged(dossier: Dossier) -> dict[str, Any]:
    """The first value of each field; a later one that contradicts it is listed."""
    values: dict[str, Any] = {}
    for row, said in dossier.people:
        for key, value in said.items():
            if values.setdefault(key, value) != value and key not in IDENTITY:
                row.set_aside(
                    f"differs from an earlier row of patient {dossier.number}, which is kept",
                    "the same in every row of the person",
                    key=key,
                )
    return values


def eye_of(dossier: Dossier, side: Side, findings: Findings) -> EyeRecord | None:
    """One eye from its one row and its readings; contradicting rows are set aside, and the eye with them."""
    found = dossier.eyes.get(side, [])
    readings = tuple(dossier.readings.get(side, ()))
    if not found:
        return EyeRecord(side, listed=False, measurements=readings) if readings else None
    first_row, record = found[0]
    if any(other != record for _, other in found[1:]):
        places = " and ".join(row.place() for row, _ in found[:2])
        why = f"tells of the {side.value} eye of patient {dossier.number} otherwise than another row: {places}"
        for row, _ in found:
            row.set_aside(why, "one row an eye")
        return None
    for row, _ in found[1:]:
        row.set_aside(f"repeats {first_row.place()}, which is used", "one row an eye")
    if not readings:
        return record
    return replace(record, measurements=with_register(readings, record.measurements, first_row, findings))
