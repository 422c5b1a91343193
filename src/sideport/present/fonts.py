"""Where the fonts for Latin, Bengali and Devanagari lie: in packages, so that a sheet looks the same everywhere."""

from functools import cache
from pathlib import Path

import fontpkg_hind_siliguri
import fontpkg_noto_sans
import fontpkg_noto_sans_devanagari
import typst

__all__ = ["FONT_FAMILIES", "font_folders", "sheet_fonts"]

FONT_FAMILIES = ("Noto Sans", "Noto Sans Devanagari", "Hind Siliguri")
"""In the order in which a letter is looked for: Latin, Devanagari, Bengali."""


def font_folders() -> tuple[Path, ...]:
    """The folders with the font files, one a family.

    Returns
    -------
    tuple of Path
        Folders in the order of ``FONT_FAMILIES``.
    """
    packages = (fontpkg_noto_sans, fontpkg_noto_sans_devanagari, fontpkg_hind_siliguri)
    return tuple(Path(package.__file__).parent / "files" for package in packages)


@cache
def sheet_fonts() -> typst.Fonts:
    """The fonts as the typesetter wants them, read once in a process; fonts of the machine are left out."""
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=list(font_folders()))
