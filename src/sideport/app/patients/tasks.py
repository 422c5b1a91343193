"""What waits for a person: contradictions that no rule may settle, and people who may be registered twice."""

from dataclasses import dataclass

from django.forms import Form
from django.http import HttpRequest

from ...record.entry import Entry
from ...record.kinds import known, payload_of
from ..people.pages import plain_page
from ..planning.frames import Frame
from ..record.models import JournalEntry, Person, Task
from ..record.queries import Told, open_tasks, person_facts
from .history import Line, Word, field_words, lines_of
from .models import FolderImport
from .queries import MAYBE_SAME, pair_of

__all__ = [
    "CODE_WORDS", "Compared", "TaskLine", "TaskPage", "TasksPage", "choices_of", "entries_of", "pair_rows",
    "task_page", "tasks_page",
]  # fmt: skip

CODE_WORDS = {
    MAYBE_SAME: "Registered twice?",
    "identity-differs": "One number, two people?",
    "said-differently": "Corrected in two ways",
    "box-overdrawn": "More lenses left a box than it held",
    "label-differs": "One box, two labels",
    "operated-twice": "Two operations on one eye",
}
SETTLED_SHOWN = 20


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One thing that waits, or that was settled."""

    task: Task
    title: str
    about: str
    """Number of the patient or box."""


@dataclass(frozen=True, slots=True)
class TasksPage:
    """Everything that waits."""

    frame: Frame
    waiting: tuple[TaskLine, ...]
    settled: tuple[TaskLine, ...]
    imports: tuple[FolderImport, ...]
    """Folders of which something set aside still waits to be mended."""
    looked: str
    """How many new questions a look through the register raised; empty when nobody looked just now."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One of two people who may be one."""

    row: Person
    words: tuple[Word, ...]
    readings: int


@dataclass(frozen=True, slots=True)
class TaskPage:
    """One question with what is to be compared."""

    frame: Frame
    line: TaskLine
    form: Form
    people: tuple[Compared, ...]
    lines: tuple[Line, ...]


def line_of(task: Task) -> TaskLine:
    """A task as it is listed."""
    return TaskLine(task, CODE_WORDS.get(task.code, task.code), task.subject.partition("/")[2])


def tasks_page(request: HttpRequest, unit: str) -> TasksPage:
    """What waits, and what was settled last."""
    settled = Task.objects.filter(unit=unit).exclude(settled_by="").order_by("-settled_by")[:SETTLED_SHOWN]
    waiting = FolderImport.objects.filter(unit=unit, closed_by="")
    return TasksPage(
        frame=plain_page(request, "tasks"),
        waiting=tuple(line_of(task) for task in open_tasks(unit=unit)),
        settled=tuple(line_of(task) for task in settled),
        imports=tuple(row for row in waiting if row.open),
        looked=request.GET.get("looked", ""),
    )


def entries_of(task: Task) -> list[Entry]:
    """The entries that a task is about, oldest first."""
    return [row.entry() for row in JournalEntry.objects.filter(pk__in=task.entries).order_by("stamp")]


def pair_rows(task: Task) -> tuple[Person, ...]:
    """The two people of a question about a double registration, the earlier number first; none of other tasks."""
    if task.code != MAYBE_SAME:
        return ()
    later, earlier = pair_of(entries_of(task)[0])
    return tuple(Person.objects.filter(unit=task.unit, person_id__in=[later, earlier]).order_by("person_id"))


def choices_of(task: Task) -> list[tuple[str, str]]:
    """The entries of a contradiction, to choose the one that holds."""
    return [
        (entry.entry_id, f"what {entry.author} wrote on {entry.at:%Y-%m-%d %H:%M}: {summary(entry)}")
        for entry in entries_of(task)
    ]


def summary(entry: Entry) -> str:
    """What an entry says, in one line."""
    (line,) = lines_of((told(entry),))
    return "; ".join(f"{word.label} {word.now}" for word in line.words[:6]) or line.title


def told(entry: Entry) -> Told:
    """An entry by itself, without its history."""
    return Told(entry, payload_of(entry) if known(entry) else None, None, True)


def task_page(request: HttpRequest, task: Task, form: Form) -> TaskPage:
    """One question."""
    people = tuple(compared(row) for row in pair_rows(task))
    lines = () if people else lines_of(tuple(told(entry) for entry in entries_of(task)))
    return TaskPage(plain_page(request, "tasks"), line_of(task), form, people, lines)


def compared(row: Person) -> Compared:
    """What two people are compared by."""
    person = person_facts(row)
    return Compared(row, tuple(field_words(person, None)), sum(len(eye.measurements) for eye in person.eyes))
