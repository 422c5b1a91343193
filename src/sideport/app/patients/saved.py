"""From a valid form to the journal, once; and back to the page that says so."""

from collections.abc import Callable, Iterable
from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.forms import Form
from django.http import HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse

from ...errors import SideportError
from ...record.entry import Entry
from .once import already_taken, remember

__all__ = ["AGAIN", "NOTHING", "TAKEN", "back_to_patient", "written"]

AGAIN, NOTHING, TAKEN = "again", "nothing", "taken-back"
MOST_NAMED = 20
"""Entries that are offered to be taken back at once."""


def written(request: HttpRequest, form: Form, write: Callable[[], Iterable[Entry | None]]) -> str | None:
    """Writes what a form says, unless the same form was written before.

    Parameters
    ----------
    request : HttpRequest
        The request.
    form : Form
        Valid.
    write : callable
        The one service call.

    Returns
    -------
    str or None
        The entries for ``back_to_patient``; ``None`` when it was refused, which the form then says.
    """
    token = str(form.cleaned_data.get("once") or "")
    if already_taken(request, token):
        return AGAIN
    try:
        entries = [entry.entry_id for entry in write() if entry is not None]
    except ValidationError as error:
        form.add_error(None, error)
        return None
    except SideportError as error:
        form.add_error(None, str(error))
        return None
    remember(request, token)
    return ",".join(entries[:MOST_NAMED]) or NOTHING


def back_to_patient(key: str, saved: str) -> HttpResponseRedirect:
    """The patient's page, which says what was written."""
    return redirect(f"{reverse('patient', args=[key])}?{urlencode({'saved': saved})}")
