"""The operations a cataract may get."""

from enum import Enum

__all__ = ["Technique"]


class Technique(Enum):
    """What may be done for a cataract."""

    MSICS = "manual small-incision"
    PHACO = "phacoemulsification"
    ECCE = "extracapsular"
    ICCE = "intracapsular"
    REFER = "refer"
