"""The body of numbers a plan stands on."""

from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import KnowledgeError
from .number import Number, Source

__all__ = ["Knowledge"]


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Numbers by dotted key, with the bibliography they point into.

    ``version`` is a digest of the content, so equal versions mean equal numbers.
    """

    version: str
    numbers: Mapping[str, Number]
    sources: Mapping[str, Source]

    def number(self, key: str) -> Number:
        """The number with its origin.

        Raises
        ------
        KnowledgeError
            When the key does not exist; the message lists the keys beside it.
        """
        try:
            return self.numbers[key]
        except KeyError:
            stem = key.rpartition(".")[0]
            beside = ", ".join(sorted(known for known in self.numbers if known.startswith(stem))) or "none"
            raise KnowledgeError(f"No number is called {key!r}. Beside it there are: {beside}.") from None

    def value(self, key: str) -> float:
        """The value alone, in the number's own unit."""
        return self.number(key).value

    def table(self, prefix: str) -> dict[str, Number]:
        """The numbers under a dotted prefix, by the rest of their key.

        Raises
        ------
        KnowledgeError
            When nothing stands under the prefix.
        """
        stem = prefix + "."
        found = {key.removeprefix(stem): number for key, number in self.numbers.items() if key.startswith(stem)}
        if not found:
            raise KnowledgeError(f"No number stands under {prefix!r}.")
        return found

    def source(self, key: str) -> Source:
        """A work in the bibliography.

        Raises
        ------
        KnowledgeError
            When the bibliography has no such work.
        """
        try:
            return self.sources[key]
        except KeyError:
            raise KnowledgeError(f"The bibliography has no work called {key!r}; add it to sources.toml.") from None
