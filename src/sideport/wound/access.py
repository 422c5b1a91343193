"""What stands in the way at each site: blebs, brows, pterygia and the surgeon's own hand."""

from dataclasses import dataclass

from ..eye.person import EyeRecord
from ..knowledge import Effect, Knowledge, Reason
from ..optics.side import Side
from .plan import Site
from .technique import Technique

__all__ = ["SiteAccess", "site_access"]

OBLIQUE = {Site.SUPEROTEMPORAL, Site.SUPERONASAL}
UPPER = OBLIQUE | {Site.SUPERIOR}
OFFERED = {
    Technique.MSICS: (Site.SUPERIOR, Site.SUPEROTEMPORAL, Site.TEMPORAL, Site.SUPERONASAL),
    Technique.PHACO: (Site.TEMPORAL, Site.SUPERIOR),
    Technique.ECCE: (Site.SUPERIOR, Site.TEMPORAL),
    Technique.ICCE: (Site.SUPERIOR, Site.TEMPORAL),
}


@dataclass(frozen=True, slots=True)
class SiteAccess:
    """A site that may be used, with what counts against it."""

    site: Site
    handicap: float
    """Taken off the probability of a small cylinder when sites are compared."""
    reasons: tuple[Reason, ...]


def site_access(
    *, record: EyeRecord, technique: Technique, surgeon_right_handed: bool, knowledge: Knowledge
) -> tuple[tuple[SiteAccess, ...], tuple[Reason, ...]]:
    """Sites open to this eye, and why others are closed.

    Parameters
    ----------
    record : EyeRecord
        Side, bleb, pterygium, deep-set eye, glaucoma.
    technique : Technique
        Any but ``REFER``.
    surgeon_right_handed : bool
        The hand that holds the knife.
    knowledge : Knowledge
        Holds ``wound.toml``.

    Returns
    -------
    tuple
        Open sites in order of habit, and the reasons for closed ones.

    Notes
    -----
    A bleb closes every upper site; it is taken to lie above, where it is made. Seated above the patient's head, the
    surgeon has the patient's right on the right hand, so the oblique cut of a right-handed surgeon is superotemporal
    in the right eye and superonasal in the left. Large sutured cuts are made from above as long as nothing forbids it.
    """
    offered = OFFERED[technique]
    closed: list[Reason] = []
    practice = knowledge.number("wound.handicap.nasal")
    if record.bleb:
        offered = tuple(site for site in offered if site not in UPPER)
        text = "Filtering bleb above: no upper cut, keep away from the bleb."
        closed.append(Reason(text, Effect.AGAINST, practice.source, practice.basis))
    elif technique in {Technique.ECCE, Technique.ICCE}:
        offered = offered[:1]
    found = (open_site(site, record, surgeon_right_handed, knowledge) for site in offered)
    return tuple(found), tuple(closed)


def open_site(site: Site, record: EyeRecord, right_handed: bool, knowledge: Knowledge) -> SiteAccess:
    """One site with every handicap that this eye and surgeon give it."""
    hand_side = Site.SUPEROTEMPORAL if (record.side is Side.RIGHT) == right_handed else Site.SUPERONASAL
    spare = bool(record.glaucoma) and site in UPPER
    applies = (
        (
            bool(record.deep_set) and site is Site.SUPERIOR,
            "deep_set_superior",
            "deep-set eye, the brow bars a cut from above.",
        ),
        (
            bool(record.deep_set) and site in OBLIQUE,
            "deep_set_oblique",
            "deep-set eye, the brow hinders.",
        ),
        (spare, "spare_conjunctiva", "glaucoma, keep the upper conjunctiva for drainage surgery."),
        (
            bool(record.pterygium) and site is Site.SUPERONASAL,
            "pterygium_nasal",
            "pterygium, stay away from the nasal side.",
        ),
        (site is Site.SUPERONASAL, "nasal", "nose and brow hinder; no series of its own."),
        (site in OBLIQUE and site is not hand_side, "cross_hand", "oblique cut on the weaker hand's side."),
    )
    numbers = [(knowledge.number(f"wound.handicap.{key}"), text) for holds, key, text in applies if holds]
    reasons = tuple(
        Reason(f"Against {site.value}: {text}", Effect.AGAINST, n.source, n.basis, n.value) for n, text in numbers
    )
    return SiteAccess(site, sum(number.value for number, _ in numbers), reasons)
