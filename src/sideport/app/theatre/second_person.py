"""The second person of a deviation: somebody else of the unit, who shows by PIN or password that they are there."""

from django.http import HttpRequest

from ..access import Permission, Role, account_of
from ..demo import demo_is_open
from ..people.models import Account
from ..people.services import PinResult
from ..people.sessions import demo_account
from ..people.views_sign import unlocked

__all__ = ["agreed", "others_who_may"]

WORDS = {
    PinResult.WRONG: "Not right. Let the second person type it again.",
    PinResult.SPENT: "This PIN was wrong too often. Let another person agree.",
    PinResult.NONE: "This person has no PIN.",
}


def others_who_may(request: HttpRequest) -> tuple[Account, ...]:
    """Everybody else of the unit who may be the second person."""
    account = account_of(request)
    if demo_is_open(request):
        for role in (Role.LEAD_SURGEON, Role.NURSE):
            demo_account(role)
    people = Account.objects.of_unit(account.unit).filter(is_active=True).exclude(pk=account.pk)
    return tuple(each for each in people if each.may(Permission.ASSIST) and may_prove(request, each))


def may_prove(request: HttpRequest, account: Account) -> bool:
    """Whether an account has anything to show that its owner is there."""
    return bool(account.pin) or account.has_usable_password() or (account.invented and demo_is_open(request))


def agreed(request: HttpRequest, *, account_id: str, typed: str) -> tuple[Account | None, str]:
    """The second person who agreed, or what was wrong."""
    chosen = next((each for each in others_who_may(request) if str(each.pk) == account_id), None)
    if chosen is None:
        return None, "Choose who the second person is."
    result = unlocked(request, chosen, typed)
    return (chosen, "") if result == PinResult.RIGHT else (None, WORDS[result])
