"""The wished refraction by name, and what to say when the two eyes would be left far apart."""

from ..errors import ImpossibleInputError
from ..knowledge import Flag, Knowledge, Severity

__all__ = ["imbalance_flag", "target_named", "target_policies"]

POLICY = "target.policy"


def target_policies(knowledge: Knowledge) -> tuple[str, ...]:
    """Names of the policies that a unit may choose from.

    Parameters
    ----------
    knowledge : Knowledge

    Returns
    -------
    tuple of str
        Sorted.
    """
    return tuple(sorted(knowledge.table(POLICY)))


def target_named(*, policy: str, knowledge: Knowledge) -> float:
    """The wished refraction of a policy.

    Parameters
    ----------
    policy : str
        A name in ``target.toml``, in any case, with spaces or hyphens for underscores.
    knowledge : Knowledge

    Returns
    -------
    float [D]

    Raises
    ------
    ImpossibleInputError
        When no policy has that name; the message lists them.

    Example
    -------
    >>> from sideport.knowledge import load_published
    >>> target_named(policy="Field work", knowledge=load_published())
    -0.5
    """
    known = knowledge.table(POLICY)
    name = "_".join(policy.lower().replace("-", " ").replace("_", " ").split())
    if name not in known:
        raise ImpossibleInputError(
            f"No target policy is called {policy!r}; write {', '.join(target_policies(knowledge))}, or a number [D]."
        )
    return known[name].value


def imbalance_flag(*, refraction_d: float, fellow_d: float, fellow_words: str, knowledge: Knowledge) -> Flag | None:
    """Says so when the eyes would be left further apart than glasses can join.

    Parameters
    ----------
    refraction_d : float [D]
        Expected spherical equivalent of the eye to be operated on.
    fellow_d : float [D]
        Spherical equivalent of the other eye.
    fellow_words : str
        What that number is: ``has``, ``is expected to end at``.
    knowledge : Knowledge

    Returns
    -------
    Flag or None
        ``None`` up to and at the limit, and when either number is NaN.

    Notes
    -----
    Differences of 1 to 3 D were borne without more complaints than smaller ones; of more than 3 D little is known, and
    the images differ in size by what many cannot join. It is a caution, not a bar: people and their work differ.

    References
    ----------
    krarup2020.
    """
    limit = knowledge.number("target.imbalance.caution_d")
    apart = refraction_d - fellow_d
    if not abs(apart) > limit.value:
        return None
    return Flag(
        code="eyes-left-apart", severity=Severity.WARN,
        message=f"This eye is expected to end at {refraction_d:+.2f} D and the other {fellow_words} {fellow_d:+.2f} D: "
        f"{abs(apart):.1f} D apart, images of unlike size.",
        action="Ask how the person sees with both eyes, consider a target nearer the other eye, or plan the second eye "
        "soon.",
        source=limit.source, basis=limit.basis, value=abs(apart), limit=limit.value, unit="D",
    )  # fmt: skip
