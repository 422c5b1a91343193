"""What every template knows about the session."""

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from ..backup_times import backup_words
from .models import Account
from .roles import Role

__all__ = ["session"]


def session(request: HttpRequest) -> dict[str, object]:
    """How long a page may lie unused before the curtain falls [s], and what administrators are told of backups."""
    return {"idle_s": settings.IDLE_LOCK_S, "backup_words": lambda: words_for(request)}


def words_for(request: HttpRequest) -> str:
    """About the backups, for those who look after the computer."""
    account = getattr(request, "user", None)
    if not isinstance(account, Account) or account.role != Role.ADMINISTRATOR or account.invented:
        return ""
    return backup_words(data=settings.DATA, plan=settings.BACKUP_PLAN, now=timezone.now())
