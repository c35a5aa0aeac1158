"""A limit on the process's address space that is too small for reading: libraries end the process where it is hit.

Under ``ulimit -v 400000`` OpenCV's linear algebra asks for a buffer, gets none, and uses it all the same: a
segmentation fault, which no Python code can turn into a message. So the limit is looked at before anything is decoded.
"""

from __future__ import annotations

NEEDED_BYTES, BYTES_A_PIXEL = 1_300_000_000, 9
"""Address space of a reading: most of it is claimed by the libraries and hardly any touched (their memory is 0.2 GB). A
photo of 1.6 megapixels is read within 1.3 GB, not within 1.2 [measured]; a larger one takes three bytes a pixel three
times over at the most, as decoded, in grey and reduced."""


def too_little_for(pixels: int) -> tuple[float, float] | None:
    """Compare the process's limit with what a photo of so many pixels needs.

    Returns
    -------
    tuple of two float or None
        Allowed and needed, GB, where the first is less. None without a limit, and on systems that have none.
    """
    try:
        import resource
    except ImportError:  # Windows
        return None
    allowed, _ = resource.getrlimit(resource.RLIMIT_AS)
    needed = NEEDED_BYTES + BYTES_A_PIXEL * pixels
    if allowed == resource.RLIM_INFINITY or allowed >= needed:
        return None
    return allowed / 1e9, needed / 1e9
