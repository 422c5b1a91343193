"""The ``sideport`` command: parse, call, print. Each command is a module here."""

from .main import app


def main() -> None:
    """Entry point of the installed command."""
    app()


__all__ = ["app", "main"]
