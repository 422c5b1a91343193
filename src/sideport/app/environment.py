"""Reads the environment for ``settings.py``: typed, and loud when a value cannot be used."""

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

__all__ = ["DATA_VARIABLE", "HOSTS_VARIABLE", "data_folder", "host_names", "secret_key"]

DATA_VARIABLE = "SIDEPORT_DATA"
HOSTS_VARIABLE = "SIDEPORT_HOSTS"
LOOPBACK_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
KEY_FILE = "secret.key"
KEY_BYTES = 50


def data_folder(environ: Mapping[str, str]) -> Path | None:
    """The folder that holds the database and the secret, or ``None`` when nothing is to be kept.

    Raises
    ------
    ImproperlyConfigured
        When the variable is set to something that is not a folder.
    """
    written = environ.get(DATA_VARIABLE, "").strip()
    if not written:
        return None
    folder = Path(written).expanduser()
    if not folder.is_dir():
        raise ImproperlyConfigured(f"{DATA_VARIABLE} is {written!r}, which is not a folder. Make it, or name another.")
    return folder.resolve()


def host_names(environ: Mapping[str, str]) -> list[str]:
    """The host names that the site answers to: loopback ones, and those the variable adds (comma separated).

    Raises
    ------
    ImproperlyConfigured
        When a wildcard is asked for: any page on the internet could then read the plans through the reader's browser.
    """
    added = [name.strip() for name in environ.get(HOSTS_VARIABLE, "").split(",") if name.strip()]
    if any("*" in name or name.startswith(".") for name in added):
        raise ImproperlyConfigured(f"{HOSTS_VARIABLE} may not hold a wildcard; write each host name in full.")
    return [*LOOPBACK_HOSTS, *added]


def secret_key(folder: Path | None) -> str:
    """The key that signs cookies: made on the first run, kept in the data folder, readable by its owner alone.

    Without a data folder the key lives as long as the process.

    Raises
    ------
    ImproperlyConfigured
        When the key file exists but is too short to be one.
    """
    if folder is None:
        return secrets.token_urlsafe(KEY_BYTES)
    path = folder / KEY_FILE
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        key = path.read_text(encoding="ascii").strip()
    else:
        key = secrets.token_urlsafe(KEY_BYTES)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(key)
    if len(key) < KEY_BYTES:
        raise ImproperlyConfigured(
            f"{path} is too short to be a secret key. Delete it; the next start makes a new one."
        )
    return key
