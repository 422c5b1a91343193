"""A day's request as JSON beside its plan, so that the record can take in what the plan was made from."""

from functools import cache
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from ..day.settings import DayRequest
from ..errors import PlanFormatError

__all__ = ["REQUEST_FILE", "read_request", "write_request"]

REQUEST_FILE = "request.json"


def write_request(request: DayRequest, path: Path) -> None:
    """Writes a request, whole or not at all.

    Parameters
    ----------
    request : DayRequest
        As read from a folder.
    path : Path
        The file; an older one is replaced.
    """
    draft = path.with_name(path.name + ".part")
    draft.write_bytes(adapter().dump_json(request, indent=1) + b"\n")
    draft.replace(path)


def read_request(path: Path) -> DayRequest:
    """Reads a request.

    Parameters
    ----------
    path : Path
        As `write_request` writes it.

    Returns
    -------
    DayRequest

    Raises
    ------
    PlanFormatError
        When the file is none.
    """
    try:
        return adapter().validate_json(path.read_bytes())
    except ValidationError:
        raise PlanFormatError(
            f"{path.name} cannot be read; make it anew: sideport plan FOLDER --out {path.parent}"
        ) from None


@cache
def adapter() -> TypeAdapter[DayRequest]:
    """Pydantic's view of the dataclasses, made once."""
    return TypeAdapter(DayRequest)
