"""Smaller pictures for the page of a large day: each is made once, and kept in the day's file."""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor

from strandline.day.reading.pool import cores
from strandline.day.reading.store import ResultsStore
from strandline.day.results.results import DayResults

# So many pictures of full size make a page of some 35 MB; with more of them each is reduced, so that a phone still
# opens the page [estimated from 65 kB a picture].
FULL_SIZE_PICTURES = 400
REDUCED_SIDE_PX, REDUCED_QUALITY = 640, 40
# So many are made between two commits, each of which waits for the disk. They hold some 3 MB.
AT_ONCE = 64


def needs_small_pictures(day: DayResults) -> bool:
    """Whether the day has more pictures than a page takes at full size."""
    return day.read > FULL_SIZE_PICTURES


def make_small(day: DayResults, store: ResultsStore) -> int:
    """Reduce the pictures of all readings that count, where that was not done before.

    A picture takes 60 ms to reduce, so that at 3,000 photos doing so for each page anew would take minutes at every
    scan of a watched folder [measured].

    Parameters
    ----------
    day : DayResults
    store : ResultsStore

    Returns
    -------
    int
        Pictures that were made.
    """
    counted = [leg.counted for bike in day.bikes for leg in bike.legs]
    there = store.small_picture_keys()
    left = [key for one in counted if (key := (one.sha256, one.inputs_hash)) not in there]
    with ThreadPoolExecutor(cores()) as pool:  # Pillow works outside the interpreter's lock
        for start in range(0, len(left), AT_ONCE):
            some = [(key, store.picture(*key)) for key in left[start : start + AT_ONCE]]
            full = [(key, picture) for key, picture in some if picture is not None]
            made = pool.map(_reduced, (picture for _, picture in full))
            store.keep_small([(*key, small) for (key, _), small in zip(full, made, strict=True)])
    return len(left)


def _reduced(picture: bytes) -> bytes:
    from PIL import Image

    buffer = io.BytesIO()
    with Image.open(io.BytesIO(picture)) as image:
        image.thumbnail((REDUCED_SIDE_PX, REDUCED_SIDE_PX))
        image.save(buffer, "WEBP", quality=REDUCED_QUALITY)
    return buffer.getvalue()
