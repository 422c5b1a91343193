"""System checks: what would make the site unsafe or unreadable, each with a hint."""

import os
import stat

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.checks import CheckMessage, Error, Tags, Warning, register

from .environment import DATA_VARIABLE, KEY_FILE

__all__ = ["check_data_folder", "check_fonts", "check_key_mode"]

FONTS = ("fonts/bengali/HindSiliguri-Regular.ttf", "fonts/devanagari/NotoSansDevanagari[wdth,wght].ttf")
OTHERS_MAY = stat.S_IRWXG | stat.S_IRWXO


@register(Tags.files)
def check_data_folder(**_: object) -> list[CheckMessage]:
    """A data folder is named and can be written."""
    if settings.DATA is None:
        hint = f"Set {DATA_VARIABLE} to a folder, or start the site with `sideport serve OUT`."
        return [Warning("No data folder: nothing will be kept.", hint=hint, id="sideport.W001")]
    if not os.access(settings.DATA, os.W_OK):
        hint = "Give this user the right to write there, or name another folder."
        return [Error(f"The data folder {settings.DATA} cannot be written.", hint=hint, id="sideport.E001")]
    return []


@register(Tags.security)
def check_key_mode(**_: object) -> list[CheckMessage]:
    """Only its owner can read the secret key (where the system has such rights)."""
    if settings.DATA is None or os.name != "posix":
        return []
    path = settings.DATA / KEY_FILE
    if path.exists() and path.stat().st_mode & OTHERS_MAY:
        return [Error(f"Others can read {path}.", hint=f"Run: chmod 600 {path}", id="sideport.E002")]
    return []


@register(Tags.staticfiles)
def check_fonts(**_: object) -> list[CheckMessage]:
    """The fonts for names in Bengali and Devanagari are installed."""
    hint = "Install the package again with its dependencies: pip install --force-reinstall sideport"
    return [
        Error(f"The font {font} is missing.", hint=hint, id="sideport.E003") for font in FONTS if not finders.find(font)
    ]
