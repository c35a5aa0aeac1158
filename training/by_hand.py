"""Read photos that owners marked by hand and kept for learning: ``python training/by_hand.py FOLDER [--out FILE]``.

The folder is the garage's (strandline/garage/marking/learning.py says what is in it). Each photo gives the view along
its shaft, as `part_segmentation` sees it, with the rows at which its rims lie: real surfaces, whose truth is a hand's.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from calibration.focal import focal_px_prior
from calibration.photo import load_photo
from vision.adjustment.observations import PriorInputs
from vision.geometry.views import READER_ROWS, READER_STEP_MM, ReaderFrame, reader_view
from vision.read_by_hand import measured, shaft_by_hand
from vision.reading import Layout, Reading
from vision.request import HandMarks, Request, detect_card
from vision.turned import marks_turned

FORMAT = 1
RIMS = ("seal", "marker", "marker_end", "far")
# Declared without uncertainties: the caliper's and the print's as `strandline read` assumes them for measured values.
DIAMETER_SD_MM, PRINT_SD = 0.02, 0.001


@dataclass(frozen=True)
class MarkedView:
    """A photo's view along its shaft, with a hand's truth.

    Attributes
    ----------
    name : str
    layout : str
    diameter_mm : float
    view : ndarray of uint8, shape (1024, 64, 3)
        As `vision.geometry.views.reader_view` samples it.
    rows : dict of str to float
        Row of each rim that was marked.
    sd_rows : float
        Standard uncertainty of a row, from the hand's.
    verdicts : dict of str to str
        Of each length: whether the program was right, wrong or silent.
    """

    name: str
    layout: str
    diameter_mm: float
    view: np.ndarray
    rows: dict[str, float]
    sd_rows: float
    verdicts: dict[str, str]


def views(folder: Path) -> Iterator[MarkedView]:
    """Read all photos of a folder; what cannot be used is left out, and said.

    Parameters
    ----------
    folder : Path

    Yields
    ------
    MarkedView
    """
    for path in sorted(folder.glob("*.json")):
        try:
            found = _view(path)
        except (OSError, ValueError, KeyError, TypeError, IndexError) as error:
            print(f"{path.name}: left out ({error})", file=sys.stderr)
            continue
        if found is None:
            print(f"{path.name}: left out (its marks do not place a shaft)", file=sys.stderr)
        else:
            yield found


def _view(path: Path) -> MarkedView | None:
    truth = json.loads(path.read_text(encoding="utf-8"))
    if truth["format"] != FORMAT:
        raise ValueError(f"format {truth['format']}, not {FORMAT}")
    photo = load_photo(next(p for p in (path.with_suffix(".jpg"), path.with_suffix(".heic")) if p.exists()))
    declared, focal = truth["declared"], focal_px_prior(photo)
    along, across = declared["print_scale"]
    request = Request(
        PriorInputs(declared["shaft_diameter_mm"], DIAMETER_SD_MM, along, across, PRINT_SD),
        Layout(truth["layout"]),
        focal.focal_px,
        focal.rel_sd,
    )
    card = detect_card(photo.stored)
    if isinstance(card, Reading):
        return None
    marks = marks_turned(_marks(truth), -photo.quarter_turns, photo.size)
    shaft = shaft_by_hand(photo.stored.shape[1::-1], request, marks, card)
    solution = None if isinstance(shaft, Reading) else measured(shaft, request).solution
    if solution is None or not solution.rim_s_mm:
        return None
    middle = float(np.mean(list(solution.rim_s_mm.values())))
    frame = ReaderFrame(solution.cylinder, solution.camera, middle - 0.5 * READER_ROWS * READER_STEP_MM)
    px_per_mm = solution.cylinder.px_per_mm(solution.camera, middle)
    return MarkedView(
        path.stem,
        truth["layout"],
        declared["shaft_diameter_mm"],
        reader_view(photo.stored, frame),
        {name.value: (s - frame.s0_mm) / READER_STEP_MM for name, s in solution.rim_s_mm.items()},
        float(marks.sd_px / px_per_mm / READER_STEP_MM),
        dict(truth["program"]["verdicts"]),
    )


def _marks(truth: dict[str, Any]) -> HandMarks:
    points = truth["marks_px"]
    seal, near, end, far = (None if points[name] is None else np.array([points[name]]) for name in RIMS)
    edges = tuple(np.array(line, float) for line in points["edges"])
    return HandMarks(seal, near, end, far, edges, float(truth["hand_sd_px"]))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split(":")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument(
        "--out", type=Path, help="an .npz file: views, diameters, and the rows of the rims (NaN: none)"
    )
    args = parser.parse_args()
    found = list(views(args.folder))
    verdicts = [verdict for one in found for verdict in one.verdicts.values()]
    counts = ", ".join(f"{verdicts.count(word)} {word}" for word in ("right", "wrong", "silent"))
    print(f"{len(found)} photos; the program's lengths: {counts}")
    if args.out is not None:
        names = ("seal", "marker", "marker end", "far end")
        rows = [[one.rows.get(name, np.nan) for name in names] for one in found]
        np.savez_compressed(
            args.out,
            views=np.stack([one.view for one in found]),
            diameter_mm=np.array([one.diameter_mm for one in found]),
            rows=np.array(rows),
        )


if __name__ == "__main__":
    main()
