"""What to look at again before the plan is trusted: every biometry rule, applied to every eye."""

from collections.abc import Sequence

from ..errors import ImpossibleInputError
from ..knowledge import Flag, Knowledge, Severity
from ..optics.side import Side
from .belief import Belief
from .facts import gather
from .method import load_method_errors
from .person import Person
from .prior import load_prior
from .quality_eye import eye_flags
from .quality_pair import difference_flags, swapped_flags
from .quality_slip import slip_flags
from .slip import Suspicion, load_slip_model

__all__ = ["quality_flags"]

WORST_FIRST = (Severity.STOP, Severity.WARN, Severity.NOTE)


def quality_flags(
    people: Sequence[Person], belief: Belief, knowledge: Knowledge
) -> tuple[dict[Side, tuple[Flag, ...]], ...]:
    """Judge the measurements of every eye by the published rules.

    Parameters
    ----------
    people : sequence of Person, length n
        The people the belief is about, in its order.
    belief : Belief
        What ``believe`` made of their readings.
    knowledge : Knowledge
        The published numbers; the rules stand in ``biometry_quality.toml``.

    Returns
    -------
    tuple of dict, length n
        For each person both sides with their flags, worst first. One finding makes one flag an eye. What is missing,
        and how the eyes differ, is told only of an eye on the list.

    Raises
    ------
    ImpossibleInputError
        When the belief is about another number of people, or a reading cannot be true.

    Notes
    -----
    The limits of the UK national data set ask for another look tonight; the narrower screening limits of 1988 make a
    note, since a quarter of people differ by their 0.3 mm between eyes. Limits are applied to readings as taken, by the
    most precise method the eye has; between eyes measured by different methods each method's bias is taken off first.
    The belief's suspicions of slips stop an eye when a slip is likelier than not or decides over a large step of the
    lens, and ask for another look otherwise.

    References
    ----------
    knoxcartwright2010 and holladay1988 (limits recalled); cass2002 and the other sources of
    ``measurement_methods.toml``.
    """
    if len(people) != len(belief.mean):
        raise ImpossibleInputError(f"{len(people)} people but a belief about {len(belief.mean)}; believe them first.")
    errors = load_method_errors(knowledge)
    prior = load_prior(belief.population, knowledge)
    slips = load_slip_model(knowledge)
    suspected: dict[int, list[Suspicion]] = {}
    for suspicion in belief.suspicions:
        suspected.setdefault(suspicion.person, []).append(suspicion)
    found: list[dict[Side, tuple[Flag, ...]]] = []
    for index, (person, eyes) in enumerate(zip(people, gather(people, belief), strict=True)):
        listed = [side for side in Side if eyes[side].listed]
        slipped = slip_flags(suspected.get(index, ()), listed, slips, knowledge)
        between = difference_flags(eyes, errors, knowledge)
        swapped = swapped_flags(person, prior, errors, knowledge)
        flags: dict[Side, tuple[Flag, ...]] = {}
        for side in Side:
            own = eye_flags(eyes[side], eyes[side.other], knowledge) + between[side]
            own += swapped + slipped[side] if eyes[side].listed else []
            if any(flag.code == "slip-contact-short" and flag.severity is Severity.STOP for flag in own):
                # The same finding, told with what it means for the lens.
                own = [flag for flag in own if flag.code != "axial-length-contact-short"]
            flags[side] = tuple(sorted(own, key=lambda flag: WORST_FIRST.index(flag.severity)))
        found.append(flags)
    return tuple(found)
