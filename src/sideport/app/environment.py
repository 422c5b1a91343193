"""Reads the environment for ``settings.py``: typed, and loud when a value cannot be used."""

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

__all__ = [
    "CERTIFICATE_VARIABLE",
    "DATA_VARIABLE",
    "HOSTS_VARIABLE",
    "IDLE_VARIABLE",
    "KEY_VARIABLE",
    "certificate",
    "data_folder",
    "host_names",
    "idle_seconds",
    "secret_key",
]

DATA_VARIABLE = "SIDEPORT_DATA"
HOSTS_VARIABLE = "SIDEPORT_HOSTS"
CERTIFICATE_VARIABLE = "SIDEPORT_CERTIFICATE"
KEY_VARIABLE = "SIDEPORT_CERTIFICATE_KEY"
IDLE_VARIABLE = "SIDEPORT_IDLE_MINUTES"
IDLE_MINUTES, SHORTEST_IDLE, LONGEST_IDLE = 5.0, 1.0, 30.0
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


def certificate(environ: Mapping[str, str]) -> tuple[Path, Path] | None:
    """The certificate and its key, with which the site speaks HTTPS; ``None``: plain HTTP on the loopback address.

    Raises
    ------
    ImproperlyConfigured
        When only one of the two is named, or a file is missing.
    """
    named = [environ.get(variable, "").strip() for variable in (CERTIFICATE_VARIABLE, KEY_VARIABLE)]
    if not any(named):
        return None
    if not all(named):
        raise ImproperlyConfigured(f"{CERTIFICATE_VARIABLE} and {KEY_VARIABLE} belong together; name both files.")
    paths = [Path(name).expanduser().resolve() for name in named]
    for path in paths:
        if not path.is_file():
            raise ImproperlyConfigured(f"{path} is not a file; name the certificate and its key, both in PEM.")
    return paths[0], paths[1]


def idle_seconds(environ: Mapping[str, str]) -> float:
    """How long a screen may lie unused before it locks [s].

    Raises
    ------
    ImproperlyConfigured
        When it is not a number of minutes from 1 to 30.
    """
    written = environ.get(IDLE_VARIABLE, "").strip()
    try:
        minutes = float(written or IDLE_MINUTES)
    except ValueError:
        minutes = 0.0
    if not SHORTEST_IDLE <= minutes <= LONGEST_IDLE:
        raise ImproperlyConfigured(f"{IDLE_VARIABLE} is {written!r}; write minutes from 1 to 30.")
    return 60 * minutes


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
