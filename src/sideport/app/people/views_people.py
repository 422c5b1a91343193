"""Pages for whoever looks after accounts, and the log of reads."""

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ..access import Permission, account_of, get_for, needs
from .forms import PersonForm, RoleForm
from .models import Account
from .pages import FormPage, people_page, person_page, plain_page, reads_page
from .roles import Role
from .services import NewPerson, add_person, change_role, close_account, reopen_account, send_welcome_again
from .views_sign import add_errors

__all__ = ["add", "close", "people", "person", "reads", "reopen", "welcome_again"]

form_view = require_http_methods(["GET", "HEAD", "POST"])
manager = needs(Permission.MANAGE_PEOPLE)


@manager
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody of the unit."""
    return render(request, "people/people.html", {"page": people_page(request, account_of(request).unit)})


@manager
@form_view
def add(request: HttpRequest) -> HttpResponse:
    """Somebody new; the answer shows the welcome code once."""
    form, actor = PersonForm(request.POST or None), account_of(request)
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        person = NewPerson(found["username"], found["name"], Role(found["role"]), actor.unit)
        try:
            account, code = add_person(person=person, actor=actor, now=timezone.now())
        except ValidationError as error:
            add_errors(form, error)
        else:
            page = person_page(request, account, RoleForm(initial={"role": account.role}), code)
            return render(request, "people/person.html", {"page": page})
    return render(request, "people/add.html", {"page": FormPage(plain_page(request, "people"), form)})


@manager
@form_view
def person(request: HttpRequest, account_id: int) -> HttpResponse:
    """One person; POST gives another role."""
    account = get_for(request.user, Account.objects.all(), pk=account_id)
    form = RoleForm(request.POST or None, initial={"role": account.role})
    if request.method == "POST" and form.is_valid():
        try:
            change_role(
                account=account, role=Role(form.cleaned_data["role"]), actor=account_of(request), now=timezone.now()
            )
        except ValidationError as error:
            add_errors(form, error)
        else:
            return redirect("person", account_id)
    return render(request, "people/person.html", {"page": person_page(request, account, form)})


@manager
@require_POST
def close(request: HttpRequest, account_id: int) -> HttpResponse:
    """Close an account."""
    account = get_for(request.user, Account.objects.all(), pk=account_id)
    try:
        close_account(account=account, actor=account_of(request), now=timezone.now())
    except ValidationError as error:
        form = RoleForm({"role": account.role})
        add_errors(form, error)
        return render(request, "people/person.html", {"page": person_page(request, account, form)}, status=409)
    return redirect("person", account_id)


@manager
@require_POST
def reopen(request: HttpRequest, account_id: int) -> HttpResponse:
    """Open a closed account again."""
    account = get_for(request.user, Account.objects.all(), pk=account_id)
    reopen_account(account=account, actor=account_of(request), now=timezone.now())
    return redirect("person", account_id)


@manager
@require_POST
def welcome_again(request: HttpRequest, account_id: int) -> HttpResponse:
    """A new code for someone who lost password or phone; the answer shows it once."""
    account = get_for(request.user, Account.objects.all(), pk=account_id)
    code = send_welcome_again(account=account, actor=account_of(request), now=timezone.now())
    page = person_page(request, account, RoleForm(initial={"role": account.role}), code)
    return render(request, "people/person.html", {"page": page})


@needs(Permission.SEE_READS)
@require_safe
def reads(request: HttpRequest) -> HttpResponse:
    """Who read what, newest first."""
    wanted = request.GET.get("subject", "").strip()
    return render(request, "people/reads.html", {"page": reads_page(request, account_of(request).unit, wanted)})
