"""Drawing readings on their photos and writing the pictures."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.read.causes import shown
from strandline.read.one_photo import Outcome
from strandline.read.text import reasons
from strandline.shared.files import OutputError, make_folder, overlay_names, write_new
from suspension.quantities.lengths import Units
from suspension.stroke.leg import Layout

if TYPE_CHECKING:
    from calibration.photo import Photo

# Drawn lines stay clean, and the file stays small enough to send [common practice, no source].
JPEG_QUALITY = 88


@dataclass
class OverlayWriter:
    """Writes one overlay a photo into a folder.

    Attributes
    ----------
    folder : Path
    names : dict of str to str
        The overlay's file name by the photo's name as given.
    units : Units
    layout : Layout
    force : bool
        Replace what is there.
    photos : frozenset of Path
        The photos themselves, which are never replaced.
    """

    folder: Path
    names: dict[str, str]
    units: Units
    layout: Layout
    force: bool
    photos: frozenset[Path] = frozenset()

    @classmethod
    def for_photos(
        cls, folder: Path, photos: list[str], units: Units, layout: Layout, *, force: bool
    ) -> OverlayWriter:
        """Make the folder and choose names that do not clash.

        Raises
        ------
        OutputError
            If there can be no such folder.
        """
        make_folder(folder)
        paths = [Path(photo) for photo in photos]
        names = dict(zip(photos, overlay_names(paths), strict=True))
        return cls(folder, names, units, layout, force, frozenset(map(_place, paths)))

    def write(self, outcome: Outcome, photo: Photo) -> Outcome:
        """Draw and write; the outcome then says where.

        Raises
        ------
        OutputError
            If it cannot be written, or is there already.
        """
        path = self.folder / self.names[outcome.name]
        if _place(path) in self.photos:
            raise OutputError(
                f"{path} is itself one of the photos and was left as it is. Name another folder."
            )
        if path.exists() and not self.force:
            raise OutputError(f"{path} is there already and was left as it is. Add --force to replace it.")
        write_new(
            path, overlay_jpeg(outcome, photo, self.units, self.layout), force=self.force, lasting=False
        )
        return outcome.with_overlay(path)


def _place(path: Path) -> Path:
    """Where a path leads; itself where that cannot be found out."""
    try:
        return path.resolve()
    except (OSError, ValueError, RuntimeError):
        return path


def overlay_jpeg(outcome: Outcome, photo: Photo, units: Units, layout: Layout) -> bytes:
    """Draw a reading on its photo: a JPEG without any of the photo's EXIF, place and time included."""
    from PIL import Image

    from vision.overlay.draw import Caption, draw

    picture = draw(
        photo.stored,
        outcome.reading,
        units.value,
        far_end=layout.far_end,
        caption=Caption(reasons(shown(outcome.messages, refused=outcome.refused)), outcome.answer),
        quarter_turns=photo.quarter_turns,
    )
    buffer = io.BytesIO()
    Image.fromarray(picture).save(buffer, "JPEG", quality=JPEG_QUALITY)
    return buffer.getvalue()
