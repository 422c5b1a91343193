"""placeholder"""
from dataclasses import dataclass
@dataclass(frozen=True, slots=True)
class Acuity:
    """placeholder"""
    written: str
