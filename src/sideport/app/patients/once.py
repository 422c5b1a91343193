"""A form that is sent twice is taken once: the last tokens of a session are remembered."""

import secrets

from django.http import HttpRequest

__all__ = ["already_taken", "new_token", "remember"]

REMEMBERED = 40
SEEN = "sent-once"


def new_token() -> str:
    """A token for a form that is about to be shown."""
    return secrets.token_hex(12)


def already_taken(request: HttpRequest, token: str) -> bool:
    """Whether what a form says was written in this session before; a form without a token never was."""
    return bool(token) and token in request.session.get(SEEN, [])


def remember(request: HttpRequest, token: str) -> None:
    """Remember a form whose words are written; called afterwards, so that a failure leaves it to be sent again."""
    if token:
        request.session[SEEN] = [*request.session.get(SEEN, []), token][-REMEMBERED:]
