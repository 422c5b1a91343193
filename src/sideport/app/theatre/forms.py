"""The forms of the theatre. Nothing that matters is chosen beforehand; what the plan says may be."""

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from ...day.plan import DayPlan, EyePlan
from ...optics.side import Side
from ...present.words import SIDE_WORDS, SITE_WORDS, TECHNIQUE_WORDS
from ...record.theatre_said import Answer, EventKind, Outcome, Pause, WoundMade
from ...wound.plan import Site, WoundShape
from ...wound.technique import Technique
from .checklist import Item, items_of
from .identity import name_choices, number_choices
from .state import STEPS

__all__ = [
    "AbandonForm", "CodeForm", "EventForm", "GoOnForm", "NoteForm", "PauseForm", "PictureForm", "ReasonForm", "TapForm",
    "TypedForm", "UndoForm", "WoundForm",
]  # fmt: skip

YES, NO, NOT = "yes", "no", "does not apply"
LONGEST = 400
SIDES = [(Side.RIGHT.value, f"{SIDE_WORDS[Side.RIGHT]} eye"), (Side.LEFT.value, f"{SIDE_WORDS[Side.LEFT]} eye")]
OPERATIONS = [(each.value, TECHNIQUE_WORDS[each]) for each in Technique if each is not Technique.REFER]


def tapped(label: str, choices: Iterable[tuple[str, str]], *, required: bool = True) -> forms.ChoiceField:
    """A question whose answers are tapped."""
    return forms.ChoiceField(label=label, choices=list(choices), widget=forms.RadioSelect, required=required)


def words(label: str, help_text: str = "", *, required: bool = True) -> forms.CharField:
    """A line of text."""
    return forms.CharField(label=label, max_length=LONGEST, required=required, help_text=help_text)


def named(label: str, names: Sequence[str], *, required: bool = True) -> forms.ChoiceField:
    """A name out of a list."""
    empty = [("", "Choose" if required else "Nobody")]
    return forms.ChoiceField(
        label=label, choices=[*empty, *((name, name) for name in dict.fromkeys(names) if name)], required=required
    )


class TapForm(forms.Form):
    """What every form carries: the key of the tap, and how long ago it was tapped where it had to wait."""

    tap = forms.UUIDField(widget=forms.HiddenInput)
    ago_ms = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=6 * 3600 * 1000)


class PauseForm(TapForm):
    """A pause: who and which side, the questions, then what is going to be done or how it ended."""

    def __init__(self, *args: Any, pause: Pause, plan: DayPlan, eye: EyePlan, had_before: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pause, self.items = pause, items_of(pause)
        if pause is not Pause.SIGN_OUT:
            by_name = pause is Pause.SIGN_IN
            offered = name_choices(plan, eye) if by_name else number_choices(plan, eye)
            label = "Who does the patient say they are?" if by_name else "Which number is on the wristband?"
            self.fields["who"] = tapped(label, [(each.person_id, each.label) for each in offered])
            asked = "Which eye does the patient name?" if by_name else "Above which eye is the mark?"
            self.fields["side"] = tapped(asked, SIDES)
        for item in self.items:
            answers = [(YES, "Yes"), (NO, "No"), *([(NOT, "Does not apply")] if item.may_not_apply else [])]
            self.fields[f"item-{item.name}"] = tapped(item.words, answers)
            self.fields[f"note-{item.name}"] = words("Note", required=False)
        if pause is Pause.SIGN_IN:
            self.add_operation(plan, eye, had_before)
        if pause is Pause.SIGN_OUT:
            ends = [(Outcome.DONE.value, "Done"), (Outcome.STAGED.value, "To be finished in a second sitting")]
            self.fields["outcome"] = tapped("How did it end?", ends)
            self.fields["missing"] = words(
                "Remarks", "If no wound or no lens is recorded, say here why.", required=False
            )

    def add_operation(self, plan: DayPlan, eye: EyePlan, had_before: bool) -> None:
        """What is going to be done and by whom; the plan's word stands there already."""
        team = [*plan.team, eye.operator.name or "", eye.operator.supervisor or ""]
        self.fields["technique"] = forms.ChoiceField(label="Operation", choices=[("", "Choose"), *OPERATIONS])
        self.fields["operator"] = named("Operator", team)
        self.fields["supervisor"] = named("Supervisor", team, required=False)
        suggested = eye.technique.suggested
        self.initial.update({
            "technique": "" if suggested is Technique.REFER else suggested.value,
            "operator": eye.operator.name or "", "supervisor": eye.operator.supervisor or "",
        })  # fmt: skip
        if had_before:
            self.fields["again"] = forms.BooleanField(label="This is a further operation on the same eye")

    def clean(self) -> dict[str, Any]:
        """A no, or what does not apply, says why."""
        found = super().clean() or self.cleaned_data
        for item in self.items:
            if found.get(f"item-{item.name}") == NO and not found.get(f"note-{item.name}"):
                self.add_error(f"note-{item.name}", "Say why, and what was decided.")
        return found

    def asked(self) -> list[tuple[Item, BoundField, BoundField]]:
        """The questions with their fields."""
        return [(item, self[f"item-{item.name}"], self[f"note-{item.name}"]) for item in self.items]

    def identity(self) -> list[BoundField]:
        """Who and which side."""
        return [self[name] for name in ("who", "side") if name in self.fields]

    def rest(self) -> list[BoundField]:
        """What follows the questions."""
        names = ("again", "technique", "operator", "supervisor", "outcome", "missing")
        return [self[name] for name in names if name in self.fields]

    def answers(self) -> tuple[Answer, ...]:
        """Everything that was answered, to be kept."""
        found = self.cleaned_data
        who = [Answer("patient", found["who"]), Answer("side", found["side"])] if "who" in found else []
        asked = [
            Answer(item.name, found[f"item-{item.name}"], found[f"note-{item.name}"].strip()) for item in self.items
        ]
        return (*who, *asked)


class CodeForm(TapForm):
    """A code from a scanner that types, or typed by hand; a first half waits in ``before`` for the second."""

    code = forms.CharField(
        label="Scan the box", max_length=LONGEST, strip=True, help_text="Or type what is printed under the code.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false",
                                      "autofocus": True}),
    )  # fmt: skip
    before = forms.CharField(max_length=LONGEST, required=False, widget=forms.HiddenInput)
    box_id = forms.CharField(max_length=LONGEST, required=False, widget=forms.HiddenInput)


class PictureForm(TapForm):
    """A picture of the box."""

    picture = forms.FileField(
        label="Or take a picture of its code",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"}),
    )


class TypedForm(TapForm):
    """The label, typed from the box."""

    power_d = forms.FloatField(label="Power", min_value=-40, max_value=60, help_text="With its sign, as on the box.")
    lot = words("Lot", required=False)
    serial = words("Serial", required=False)
    expires = forms.DateField(label="Expires", widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, *args: Any, models: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["model"] = named("Model", models)
        self.order_fields(["model", "power_d", "lot", "serial", "expires", "tap", "ago_ms"])

    def clean(self) -> dict[str, Any]:
        """A box is told from others by lot or serial."""
        found = super().clean() or self.cleaned_data
        if not found.get("lot") and not found.get("serial"):
            self.add_error("lot", "Type lot or serial; without them nobody can say which box it is.")
        return found


class GoOnForm(TapForm):
    """Going on in spite of a stop."""

    reason = words("Why is this lens used all the same?")

    def __init__(self, *args: Any, people: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"] = forms.ChoiceField(label="Second person", choices=[("", "Choose"), *people])
        self.fields["secret"] = forms.CharField(
            label="Their PIN, or password where they have none", strip=False, max_length=500,
            widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        )  # fmt: skip


class EventForm(TapForm):
    """A step or an event."""

    step = forms.ChoiceField(choices=[(step, step) for step in STEPS], required=False)
    event = forms.ChoiceField(choices=[(each.value, each.value) for each in EventKind], required=False)
    detail = forms.CharField(max_length=LONGEST, required=False)
    count = forms.IntegerField(min_value=1, max_value=20, required=False)

    def clean(self) -> dict[str, Any]:
        """One of the two, and a word for what has no name."""
        found = super().clean() or self.cleaned_data
        if bool(found.get("step")) == bool(found.get("event")):
            raise forms.ValidationError("Tap a step or an event.")
        if found.get("event") == EventKind.OTHER.value and not found.get("detail"):
            raise forms.ValidationError("Say in a word what happened.")
        return found


class WoundForm(TapForm):
    """The wound as it was made; what the plan says stands there already."""

    site = tapped("Where", [(each.value, SITE_WORDS[each]) for each in Site])
    shape = tapped("Shape", [(each.value, each.value) for each in WoundShape])
    length_mm = forms.FloatField(label="Length [mm]", min_value=0.5, max_value=15)
    limbus_distance_mm = forms.FloatField(label="Behind the limbus [mm]", min_value=0, max_value=6)
    sutures = forms.IntegerField(label="Sutures", min_value=0, max_value=20, initial=0)
    note = words("Note", required=False)

    def said(self, eye: EyePlan, happened: Any) -> WoundMade:
        """The wound; at the planned site it has the planned meridian, elsewhere nobody measured one."""
        found = self.cleaned_data
        planned = eye.wound.chosen if eye.wound else None
        same = planned is not None and planned.site.value == found["site"]
        return WoundMade(
            site=Site(found["site"]), happened=happened,
            meridian_deg=planned.meridian_deg if planned is not None and same else None,
            length_mm=found["length_mm"], limbus_distance_mm=found["limbus_distance_mm"],
            shape=WoundShape(found["shape"]), sutures=found["sutures"], note=found["note"].strip(),
        )  # fmt: skip


class ReasonForm(TapForm):
    """A tap with a word of why."""

    reason = words("Why", required=False)


class UndoForm(ReasonForm):
    """Taking something back."""

    entry_id = forms.CharField(max_length=36)


class AbandonForm(TapForm):
    """Giving up before anything was done to the lens."""

    reason = words("Why is it abandoned?")


class NoteForm(TapForm):
    """The operation note."""

    text = forms.CharField(
        label="Operation note", max_length=20_000, strip=True, widget=forms.Textarea(attrs={"rows": 18})
    )
    drafted = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)
    sign = forms.BooleanField(required=False)
