"""A plan's data without names, for audits and questions sent elsewhere."""

import json
import re
from collections.abc import Callable, Iterable
from typing import Any

__all__ = ["without_names"]

SHORTEST_NAME = 3
KEYS_OF_EYES = frozenset({"eye_key", "key", "given_to", "eye_keys", "eyes_served"})


def without_names(document: str) -> str:
    """The plan's JSON with patients numbered, staff numbered and free notes emptied.

    Parameters
    ----------
    document : str
        ``plan.json`` as it was written.

    Returns
    -------
    str
        The same plan without anybody's name, patient number or note. Unit, date, age and measurements stay, so that it
        is not anonymous to someone who knows the day.

    Notes
    -----
    Patients become ``P1``, ``P2`` ... and staff ``Staff 1`` ... in the order of their first appearance, so that the two
    eyes of one person stay together within one file and cannot be joined across files. Names and numbers are also
    replaced inside sentences; a number of up to four bare digits is not, because it could be a reading.
    """
    plan = json.loads(document)
    eyes = plan.get("eyes", [])
    people = numbered((eye["person_id"] for eye in eyes), "P{}")
    names = {eye["name"]: people[eye["person_id"]] for eye in eyes if eye.get("name")}
    staff = numbered(staff_of(plan), "Staff {}")
    keys = {eye["key"]: f"{people[eye['person_id']]}-{eye['side']}" for eye in eyes}
    telling = {number: alias for number, alias in people.items() if not re.fullmatch(r"\d{1,4}", number)}
    words = {**staff, **names, **telling, **keys}
    replace = replacer({word: alias for word, alias in words.items() if len(word) >= SHORTEST_NAME or word in keys})
    whole = {**staff, **names, **people, **keys}
    for eye in eyes:
        eye["note"] = ""
    return json.dumps(walked(plan, whole, replace), ensure_ascii=False, indent=1)


def numbered(found: Iterable[str], form: str) -> dict[str, str]:
    """Each different text with its number, in order of appearance."""
    return {text: form.format(at) for at, text in enumerate(dict.fromkeys(filter(None, found)), start=1)}


def staff_of(plan: Any) -> Iterable[str]:
    """Names of the team, and of operators and supervisors wherever they stand."""
    yield from plan.get("team", [])
    for eye in plan.get("eyes", []):
        operator = eye.get("operator") or {}
        yield from (str(operator.get(part) or "") for part in ("name", "supervisor"))


def replacer(words: dict[str, str]) -> Callable[[str], str]:
    """A function that puts the aliases into a sentence; longer names are found before shorter ones within them."""
    if not words:
        return lambda text: text
    ordered = sorted(words, key=len, reverse=True)
    pattern = re.compile("|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in ordered))
    return lambda text: pattern.sub(lambda match: words[match.group()], text)


def walked(value: Any, whole: dict[str, str], replace: Callable[[str], str]) -> Any:
    """The same tree with every text replaced: whole texts by what they are, sentences word by word."""
    if isinstance(value, dict):
        return {name: walked_field(name, found, whole, replace) for name, found in value.items()}
    if isinstance(value, list):
        return [walked(found, whole, replace) for found in value]
    if isinstance(value, str):
        return replace(value)
    return value


def walked_field(name: str, value: Any, whole: dict[str, str], replace: Callable[[str], str]) -> Any:
    """One field: those that hold a number or a key are replaced whole, however short it is."""
    if name in {"person_id", "name", *KEYS_OF_EYES} and isinstance(value, str):
        return whole.get(value, replace(value))
    if name in KEYS_OF_EYES and isinstance(value, list):
        return [whole.get(found, found) if isinstance(found, str) else walked(found, whole, replace) for found in value]
    return walked(value, whole, replace)
