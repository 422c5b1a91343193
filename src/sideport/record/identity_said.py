"""What is said about two numbers of the register that may belong to one person."""

from dataclasses import dataclass

__all__ = ["PersonAlike", "PersonSame"]


@dataclass(frozen=True, slots=True)
class PersonAlike:
    """The subject and another number look like one person; a person decides whether they are."""

    person_id: str
    """The other number. The subject is the later of the two in the order of text, on every device."""
    why: tuple[str, ...] = ()
    """What agrees and what does not, without anybody's name."""


@dataclass(frozen=True, slots=True)
class PersonSame:
    """The subject was registered a second time; withdrawing this parts the two again."""

    person_id: str
    """The number that is kept."""
    words: str = ""
    """How it was found out."""
