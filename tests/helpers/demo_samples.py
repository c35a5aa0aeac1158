"""The two sample photos that the demo's first ride needs."""

from __future__ import annotations

import shutil
from pathlib import Path

from strandline.demo.setup import FORK_PHOTO, SHOCK_PHOTO

SAMPLES = Path(__file__).parents[2] / "sample-images"


def few_samples(folder: Path) -> Path:
    """Copy the two photos of the first ride, and what the list says of them."""
    folder.mkdir()
    text = (SAMPLES / "photos.toml").read_text(encoding="utf-8")
    entries = [entry for entry in text.split("[[photo]]") if FORK_PHOTO in entry or SHOCK_PHOTO in entry]
    (folder / "photos.toml").write_text("[[photo]]".join(["", *entries]), encoding="utf-8")
    for name in (FORK_PHOTO, SHOCK_PHOTO):
        shutil.copy(SAMPLES / name, folder / name)
    return folder
