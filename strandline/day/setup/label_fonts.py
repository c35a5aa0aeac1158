"""Fonts for labels in any script."""

from __future__ import annotations

import os
import sys
from functools import cache
from pathlib import Path

PLAIN = "Helvetica-Bold"
# Fonts with many scripts that systems bring along, the widest first; by file name, compared without case.
_WIDE = (
    "dejavusans-bold.ttf",
    "dejavusans.ttf",
    "notosans-bold.ttf",
    "notosans-regular.ttf",
    "droidsansfallbackfull.ttf",
    "droidsansfallback.ttf",
    "arialunicode.ttf",
    "arial unicode.ttf",
    "arialbd.ttf",
    "arial.ttf",
    "segoeui.ttf",
    "tahoma.ttf",
    "malgun.ttf",
    "simhei.ttf",
    "nirmala.ttf",
    "leelawui.ttf",
)
# Scripts whose letters change with their neighbours, or run from right to left: placing letter after letter, as
# reportlab does, would print them wrongly (Unicode blocks Hebrew to Mongolian, and their presentation forms).
_SHAPED = ((0x0590, 0x109F), (0x1780, 0x18AF), (0xA8E0, 0xA8FF), (0xFB1D, 0xFDFF), (0xFE70, 0xFEFF))


def font_for(label: str) -> str | None:
    """Name of a font, registered with reportlab, that can print a label.

    Parameters
    ----------
    label : str

    Returns
    -------
    str or None
        None where no font here has all its letters, or its script needs shaping.
    """
    if _is_latin_1(label):
        return PLAIN
    if any(low <= ord(letter) <= high for letter in label for low, high in _SHAPED):
        return None
    wanted = {ord(letter) for letter in label if not letter.isspace()}
    for name in _WIDE:
        path = _installed().get(name)
        if path is not None and wanted <= _letters(path):
            return _registered(path)
    return None


def shaping_font_for(label: str) -> Path | None:
    """Find a font file with which Pillow can lay out a label whose letters join or run from right to left.

    Parameters
    ----------
    label : str

    Returns
    -------
    Path or None
        None where no font here has all its letters, or Pillow cannot lay out scripts here: for that it needs the
        system's FriBiDi.
    """
    from PIL import features

    if not (features.check("raqm") and features.check("fribidi")):
        return None
    wanted = {ord(letter) for letter in label if not letter.isspace()}
    wide = [path for name in _WIDE if (path := _installed().get(name)) is not None]
    for path in [*wide, *(path for path in _installed().values() if path not in wide)]:
        if wanted <= _letters(path):
            return path
    return None


def _is_latin_1(text: str) -> bool:
    """Whether the fonts that every PDF viewer has can print it."""
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


def _folders() -> list[Path]:
    home = Path.home()
    if sys.platform == "win32":
        return [Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts"]
    if sys.platform == "darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    return [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".local/share/fonts"]


@cache
def _installed() -> dict[str, Path]:
    return {
        path.name.lower(): path
        for folder in _folders()
        if folder.is_dir()
        for path in sorted(folder.rglob("*.[tT][tT][fF]"))
    }


@cache
def _letters(path: Path) -> frozenset[int]:
    from reportlab.pdfbase.ttfonts import TTFError, TTFontFile

    try:
        return frozenset(TTFontFile(str(path)).charToGlyph)
    except (TTFError, OSError, ValueError):
        return frozenset()


@cache
def _registered(path: Path) -> str:
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    name = f"label-{path.stem}"
    registerFont(TTFont(name, str(path)))
    return name
