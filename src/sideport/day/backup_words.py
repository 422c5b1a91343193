"""What to say of a backup: too strong for the sulcus, the lens itself instead of one, or one for several eyes."""

from collections.abc import Sequence
from dataclasses import replace

from ..knowledge import Basis, Flag, Knowledge, Severity
from ..lens.choice import LensChoice
from ..shelf.needs import PowerNeed
from ..shelf.words import dioptre_words, power_words
from .plan import EyePlan
from .whereabouts import listed_words

__all__ = ["lens_itself_flag", "strong_backup_flag", "tell_sharing"]

PRACTICE = ("practice", Basis.COMMON_PRACTICE)


def strong_backup_flag(
    *, lens: LensChoice | None, backup: LensChoice | None, right: PowerNeed | None, gone: str
) -> Flag | None:
    """A caution where the backup is no weaker than the lens for the bag, although the sulcus asks for a weaker one.

    Parameters
    ----------
    lens, backup : LensChoice or None
    right : PowerNeed or None
        The power of the backup's model that the sulcus asks for.
    gone : str
        Who has the lenses of that power; empty where the shelf has none.

    Returns
    -------
    Flag or None
    """
    if lens is None or backup is None or right is None:
        return None
    if backup.power_d < lens.power_d or right.power_d >= backup.power_d or backup.miss_d >= 0:
        return None
    wish = f"{right.model} {power_words(right.power_d)}"
    message = (
        f"The backup for the SULCUS, {backup.model} {power_words(backup.power_d)}, is no weaker than the lens for the "
        f"BAG, {power_words(lens.power_d)}: it would leave the eye {-backup.miss_d:.2f} D more myopic than wished."
        f" {gone or f'The shelf has no {wish}.'}"
    )
    return Flag(
        "backup-too-strong", Severity.WARN, message, f"Fetch {wish} for the SULCUS, or accept the myopia.", *PRACTICE,
        -backup.miss_d, None, "D",
    )  # fmt: skip


def lens_itself_flag(*, itself: LensChoice) -> Flag:
    """The bag's lens in the sulcus, where the shelf has no other for it.

    Parameters
    ----------
    itself : LensChoice
        The lens for the bag, as it would do in the sulcus.

    Returns
    -------
    Flag
    """
    way = "more myopic" if itself.miss_d < 0 else "more long-sighted"
    message = (
        f"There is no box to spare as a backup. The lens itself, {itself.model} {power_words(itself.power_d)}, may go "
        f"to the SULCUS: expected {dioptre_words(itself.refraction_d)}, {abs(itself.miss_d):.2f} D {way} than wished."
    )
    action = "Look at the bag before the box is opened; with the rim whole, the same lens may go in front of it."
    return Flag("lens-itself-for-the-sulcus", Severity.NOTE, message, action, *PRACTICE, itself.refraction_d, None, "D")


def tell_sharing(eyes: Sequence[EyePlan], knowledge: Knowledge) -> tuple[EyePlan, ...]:
    """The eyes of the list, each told with whom it shares its backup.

    Parameters
    ----------
    eyes : sequence of EyePlan
        In the order of the list.
    knowledge : Knowledge
        Holds ``kit.tear.reserve_threshold``.

    Returns
    -------
    tuple of EyePlan
        With a flag more where a backup stands by for several: a warning where one of them is an only eye or likely to
        need it, a note else.
    """
    sharers: dict[str, list[EyePlan]] = {}
    for eye in eyes:
        if eye.slot is not None and eye.backup is not None and eye.backup.box_id is not None:
            sharers.setdefault(eye.backup.box_id, []).append(eye)
    told = []
    for eye in eyes:
        together = sharers.get(eye.backup.box_id or "", []) if eye.backup is not None else []
        if eye.slot is None or len(together) < 2 or not any(each.backup and each.backup.shared for each in together):
            told.append(eye)
        else:
            told.append(replace(eye, flags=ordered((*eye.flags, sharing_flag(eye, together, knowledge)))))
    return tuple(told)


def sharing_flag(eye: EyePlan, together: Sequence[EyePlan], knowledge: Knowledge) -> Flag:
    """One backup for several eyes, in the order of the list."""
    threshold = knowledge.number("kit.tear.reserve_threshold")
    names = []
    for each in together:
        why = "only eye" if each.only_eye else "a tear is likely" if each.risk.probability >= threshold.value else ""
        own = "" if each.backup is None or each.backup.shared else "its own"
        words = ", ".join(filter(None, (own, why)))
        names.append(f"{each.person_id} {each.side.value[0].upper()}{f' ({words})' if words else ''}")
    guarded = any(each.only_eye or each.risk.probability >= threshold.value for each in together if each is not eye)
    backup = eye.backup
    model = "" if backup is None else f"{backup.model} {power_words(backup.power_d)}, box {backup.box_id}"
    lenses = sum(each.backup is not None and not each.backup.shared for each in together)
    verb = f"{lenses} lenses, stand by" if lenses > 1 else "stands by"
    message = f"The backup for the SULCUS, {model}, {verb} for {listed_words(names)}, in this order of the list."
    action = "Whoever needs it first has it: before each later eye, see that it is still closed, else fetch another."
    severity = Severity.WARN if guarded else Severity.NOTE
    return Flag("backup-shared", severity, message, action, *PRACTICE, float(len(together)), None, "eyes")


def ordered(flags: tuple[Flag, ...]) -> tuple[Flag, ...]:
    """Stops, then warnings, then notes."""
    rank = (Severity.STOP, Severity.WARN, Severity.NOTE)
    return tuple(sorted(flags, key=lambda flag: rank.index(flag.severity)))
