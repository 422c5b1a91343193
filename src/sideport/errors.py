"""The errors Sideport raises.

    SideportError
    ├── ImpossibleInputError   a number or record that cannot be true (a negative length); the message says what to mend
    ├── KnowledgeError         the published data files are wrong: a missing key, a number without a source
    ├── NothingToPlanError     a folder from which no eye could be read
    └── PlanFormatError        a stored plan that this version cannot read

A message names the thing, the rule and the first offenders, and says what to do. It never carries a patient's name.
Missing values are not errors: they are NaN or ``None`` and travel through. Unusual values are computed and flagged.
"""

__all__ = ["ImpossibleInputError", "KnowledgeError", "NothingToPlanError", "PlanFormatError", "SideportError"]


class SideportError(Exception):
    """Base of every error raised on purpose."""


class ImpossibleInputError(SideportError, ValueError):
    """A value that no eye, lens or day can have."""


class KnowledgeError(SideportError, LookupError):
    """The knowledge data lacks what was asked of it, or breaks its own rules."""


class NothingToPlanError(SideportError):
    """No eye could be planned from what was given."""


class PlanFormatError(SideportError):
    """A stored plan that this version of Sideport cannot read."""
