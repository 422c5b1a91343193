"""Who may do what: the roles and their rights, as data and nothing else."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from django.db.models import TextChoices

__all__ = ["RIGHTS", "Permission", "Rights", "Role", "rights_of"]


class Role(TextChoices):
    """What a person is in the unit."""

    LEAD_SURGEON = "lead-surgeon", "Lead surgeon"
    SURGEON = "surgeon", "Surgeon"
    TRAINEE = "trainee", "Trainee"
    NURSE = "nurse", "Nurse"
    TECHNICIAN = "technician", "Technician"
    STORE = "store", "Store"
    AUDITOR = "auditor", "Auditor"
    ADMINISTRATOR = "administrator", "Administrator"


class Permission(TextChoices):
    """One thing that a view lets people do; the label finishes the sentence "may ..."."""

    SEE_PATIENTS = "see-patients", "see the day, its sheets and every patient of the unit"
    SEE_SHELF = "see-shelf", "see the shelf"
    REGISTER = "register", "register patients, correct who they are, and record measurements"
    PLAN = "plan", "make and store plans, and choose other than the plan suggests"
    OPERATE = "operate", "record an operation"
    ASSIST = "assist", "work the theatre's pauses and be the second person of a deviation"
    FOLLOW_UP = "follow-up", "record visits after the operation and print the patient's slip"
    KEEP_SHELF = "keep-shelf", "receive, move and count boxes"
    SEE_RESULTS = "see-results", "see outcomes of the unit and its operators"
    LEARN = "learn", "adopt a new version of what the unit has learnt"
    RESOLVE = "resolve", "settle conflicts and patients registered twice"
    EXPORT = "export", "export without names"
    EXPORT_NAMES = "export-names", "export with names"
    EXCHANGE = "exchange", "exchange bundles with other devices, make and restore backups"
    SEE_READS = "see-reads", "see who read what"
    MANAGE_PEOPLE = "manage-people", "add people, change their roles and close accounts"


P = Permission


@dataclass(frozen=True, slots=True)
class Rights:
    """The rights of one role."""

    role: Role
    permissions: frozenset[Permission]
    why: str
    """What the role does, for whoever gives it to a person."""


def row(role: Role, why: str, *permissions: Permission) -> tuple[Role, Rights]:
    """One line of the table."""
    return role, Rights(role, frozenset(permissions), why)


RIGHTS: Mapping[Role, Rights] = MappingProxyType(
    dict(
        (
            row(
                Role.LEAD_SURGEON, "Answers for the list: plans it, operates, reads results, settles conflicts.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.REGISTER, P.PLAN, P.OPERATE, P.ASSIST, P.FOLLOW_UP, P.KEEP_SHELF,
                P.SEE_RESULTS, P.LEARN, P.RESOLVE, P.EXPORT, P.EXPORT_NAMES, P.EXCHANGE, P.SEE_READS,
            ),
            row(
                Role.SURGEON, "Operates and follows up; sees results.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.REGISTER, P.PLAN, P.OPERATE, P.ASSIST, P.FOLLOW_UP, P.SEE_RESULTS,
                P.RESOLVE, P.EXPORT,
            ),
            row(
                Role.TRAINEE, "Operates under supervision and follows up.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.REGISTER, P.OPERATE, P.ASSIST, P.FOLLOW_UP,
            ),
            row(
                Role.NURSE, "Runs the theatre's pauses and the follow-up clinic.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.REGISTER, P.ASSIST, P.FOLLOW_UP,
            ),
            row(
                Role.TECHNICIAN, "Registers patients and measures eyes, before and after.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.REGISTER, P.FOLLOW_UP,
            ),
            row(Role.STORE, "Keeps the shelf; sees no patient's name.", P.SEE_SHELF, P.KEEP_SHELF),
            row(
                Role.AUDITOR, "Reads records and results and writes none.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.SEE_RESULTS, P.EXPORT, P.SEE_READS,
            ),
            row(
                Role.ADMINISTRATOR, "Looks after accounts, backups and exchange; may look at records and writes none.",
                P.SEE_PATIENTS, P.SEE_SHELF, P.EXPORT, P.EXCHANGE, P.SEE_READS, P.MANAGE_PEOPLE,
            ),
        )
    )
)  # fmt: skip


def rights_of(role: str) -> frozenset[Permission]:
    """The permissions of a role; a role that this version does not know has none."""
    return RIGHTS[Role(role)].permissions if role in Role.values else frozenset()
