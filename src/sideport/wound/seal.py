"""Will the tunnel close by itself: each published criterion with what it asks and what it finds."""

from dataclasses import dataclass

from ..knowledge import Basis, Knowledge, Number

__all__ = ["Seal", "SealCriterion", "self_sealing"]


@dataclass(frozen=True, slots=True)
class SealCriterion:
    """One published or customary rule on the inner lip."""

    text: str
    asked_mm: float
    found_mm: float
    met: bool
    studied: bool
    """Whether the cut is no wider than those that the rule was found on."""
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class Seal:
    """The verdict and what it stands on."""

    seals: bool
    """Every criterion that applies is met; False where the cut has no tunnel."""
    criteria: tuple[SealCriterion, ...]
    """Empty where the cut has no tunnel."""

    @property
    def studied(self) -> bool:
        """Whether one of the criteria was found on cuts as wide as this one."""
        return any(criterion.studied for criterion in self.criteria)


def self_sealing(*, width_mm: float, limbus_distance_mm: float, corneal_mm: float, knowledge: Knowledge) -> Seal:
    """Whether a tunnel's inner lip is long enough to seal without a suture.

    Parameters
    ----------
    width_mm : float
        Outer cut from end to end [mm].
    limbus_distance_mm : float
        Of its centre behind the limbus [mm]; 0 for a cut at the limbus.
    corneal_mm : float
        Length of the tunnel in clear cornea [mm]; 0 for no tunnel.
    knowledge : Knowledge
        Holds ``tunnel.toml``.

    Returns
    -------
    Seal
        Verdict and criteria; no criteria and a False verdict where a measure is missing or there is no tunnel.

    Notes
    -----
    A tunnel from the sclera is held to the lip of the cadaver series (ernest1994), cut 3.2 mm wide, and to practice for
    wider ones; a corneal tunnel to mackool1996. The lip closes like a valve, so its length decides, and a square tunnel
    holds best. None of this promises a dry wound: in one hospital 129 of 200 sealed by themselves (guzek2003).

    References
    ----------
    ernest1994, mackool1996, guzek2003.

    Examples
    --------
    >>> from sideport.knowledge import load_published
    >>> found = self_sealing(width_mm=7.0, limbus_distance_mm=1.5, corneal_mm=1.75, knowledge=load_published())
    >>> found.seals, [criterion.source for criterion in found.criteria if criterion.studied]
    (True, ['practice'])
    """
    if not corneal_mm > 0:
        return Seal(False, ())
    rules = (
        (("scleral_lip_mm", "scleral_width_mm"), ("practice_lip_mm", "practice_width_mm"))
        if limbus_distance_mm > 0
        else (("corneal_length_mm", "corneal_width_mm"),)
    )
    criteria = tuple(
        criterion(
            knowledge.number(f"tunnel.seal.{lip}"), knowledge.number(f"tunnel.seal.{width}"), width_mm, corneal_mm
        )
        for lip, width in rules
    )
    return Seal(all(one.met for one in criteria), criteria)


def criterion(lip: Number, width: Number, width_mm: float, corneal_mm: float) -> SealCriterion:
    """One rule held against a tunnel."""
    met, studied = bool(corneal_mm >= lip.value), bool(width_mm <= width.value)
    carried = "" if studied else f", carried over from cuts of {width.value:g} mm"
    text = f"Inner lip {corneal_mm:g} mm, {'enough' if met else 'too short'}: {lip.value:g} mm is asked{carried}."
    return SealCriterion(text, lip.value, corneal_mm, met, studied, lip.source, lip.basis)
