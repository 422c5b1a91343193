"""The refraction that the unit wishes for where an eye has no wish of its own."""

from ..knowledge import Knowledge
from ..lens.target import target_named
from .settings import DaySettings

__all__ = ["unit_target"]


def unit_target(settings: DaySettings, knowledge: Knowledge) -> float:
    """The unit's named policy, or its number where it names none.

    Parameters
    ----------
    settings : DaySettings
    knowledge : Knowledge
        Holds ``target.toml``.

    Returns
    -------
    float [D]

    Raises
    ------
    ImpossibleInputError
        When no policy has the name.
    """
    if settings.target_policy:
        return target_named(policy=settings.target_policy, knowledge=knowledge)
    return settings.target_d
