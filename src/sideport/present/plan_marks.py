"""What a plan says lies in the way of a cut, as marks of the drawing: the same on the screen and on paper."""

from ..day.plan import EyePlan
from .eye_marks import EyeMark, MarkKind

__all__ = ["marks_of"]


def marks_of(eye: EyePlan) -> tuple[EyeMark, ...]:
    """The marks of an eye.

    Parameters
    ----------
    eye : EyePlan
        The planned eye.

    Returns
    -------
    tuple of EyeMark
        Bleb, pterygium and fibrosed capsule where they are recorded, each without its clock hour: the register has
        none.
    """
    grounds = eye.cut_grounds
    if grounds is None:
        return ()
    recorded = (
        (MarkKind.BLEB, grounds.bleb),
        (MarkKind.PTERYGIUM, grounds.pterygium),
        (MarkKind.FIBROSIS, grounds.fibrosed_capsule),
    )
    return tuple(EyeMark(kind, None) for kind, there in recorded if there)
