"""Which device this is: its keys, made on first use and kept in the data folder."""

import json
import os
from functools import cache
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from ...errors import SideportError
from ...record.keys import DeviceKeys, make_keys

__all__ = ["KEY_FILE", "renew_device", "this_device"]

KEY_FILE = "device.key"


def this_device() -> DeviceKeys:
    """The keys of this device. Without a data folder they live as long as the process."""
    return kept_keys(settings.DATA)


def renew_device() -> DeviceKeys:
    """Gives a data folder a new identity, after it was copied or restored from a backup; the old key stays beside it.

    Notes
    -----
    Two folders that write on under one identity would break that device's chain.
    """
    folder: Path | None = settings.DATA
    if folder is not None and (path := folder / KEY_FILE).exists():
        path.replace(folder / f"device-{this_device().device}.key")
    kept_keys.cache_clear()
    return this_device()


@cache
def kept_keys(folder: Path | None) -> DeviceKeys:
    """The keys in a data folder."""
    if folder is None:
        return make_keys()
    path = folder / KEY_FILE
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return read_keys(path)
    keys = make_keys()
    with os.fdopen(handle, "w", encoding="ascii") as file:
        json.dump({"signing": keys.signing, "opening": keys.opening}, file)
        file.flush()
        os.fsync(file.fileno())
    return keys


def read_keys(path: Path) -> DeviceKeys:
    """The keys of a key file.

    Raises
    ------
    ImproperlyConfigured
        When it does not hold two keys.
    """
    try:
        value = json.loads(path.read_text(encoding="ascii"))
        keys = DeviceKeys(signing=value["signing"], opening=value["opening"])
        keys.opener()
        _ = keys.device
    except (ValueError, LookupError, TypeError, SideportError):
        raise ImproperlyConfigured(
            f"{path} is not a device's key. Restore it from the backup; or move it away, and this becomes a new device."
        ) from None
    return keys
