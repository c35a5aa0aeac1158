"""The program's own reading, drawn on its photo again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import read_opened


@dataclass(frozen=True)
class RedrawJob:
    """Have a worker read a photo and draw the reading.

    Attributes
    ----------
    kept, drawn : Path
    inputs : ReadInputs
    """

    kept: Path
    drawn: Path
    inputs: ReadInputs

    def run(self) -> None:
        """Do it; a photo that is refused has no such picture."""
        from calibration.photo import load_photo
        from strandline.read.overlays import overlay_jpeg
        from strandline.shared.files import write_new

        photo = load_photo(self.kept)
        outcome = read_opened("", photo, self.inputs)
        if outcome.refused:
            self.drawn.unlink(missing_ok=True)
            return
        picture = overlay_jpeg(outcome, photo, self.inputs.units, self.inputs.leg.layout)
        write_new(self.drawn, picture, force=True)
