"""One question for templates: may this person?"""

from django import template

from ..models import Account
from ..roles import Permission

__all__ = ["may"]

register = template.Library()


@register.filter
def may(user: object, permission: str) -> bool:
    """Whether the signed-in person has a permission; nobody signed in has none."""
    return isinstance(user, Account) and user.may(Permission(permission))
