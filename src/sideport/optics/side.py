"""Which eye: right or left, never a bare string."""

from enum import Enum

__all__ = ["Side"]


class Side(Enum):
    """The right or the left eye of a person."""

    RIGHT = "right"
    LEFT = "left"

    @property
    def other(self) -> "Side":
        """The fellow eye's side."""
        return Side.LEFT if self is Side.RIGHT else Side.RIGHT
