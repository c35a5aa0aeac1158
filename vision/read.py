"""Reading of one photo, from pixels to lengths: the order of the steps, and which way round the card lies."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from vision.adjustment.bend_mixture import bend_remark
from vision.adjustment.solve import Solution
from vision.adjustment.stray_corners import without_stray_corners
from vision.contradictions import Contradiction, check_consistent, with_focal_checked
from vision.in_parallel import in_parallel
from vision.lengths.agreement import agree, marker_of_one, without_disagreement
from vision.lengths.lengths import lengths, silhouettes
from vision.lengths.out_of_round import OUT_OF_ROUND, out_of_round, without_ends
from vision.names import RimName
from vision.networks.run import FIRST_PARTS, OTHER_PARTS
from vision.read_by_hand import read_by_hand
from vision.reading import Note, Reading, Status
from vision.reasons import Reason
from vision.request import HandMarks, Request, detect_card, placed_outline_px, with_geometry
from vision.rims.band_colour import BandColour
from vision.rims.band_outline import BandOutline
from vision.rims.choose import Choice
from vision.rims.choose_by_both import choose_by_both
from vision.rims.clearest import with_clearest_ends
from vision.rims.cut_off import CUT_OFF, cut_off
from vision.rims.evidence import Evidence
from vision.rims.goes_on import shaft_goes_on
from vision.rims.orientation import LAID_RIGHT
from vision.rims.refine import RimRefiner
from vision.rims.second_edge import SECOND_EDGE, second_edges
from vision.rims.second_opinion import SecondOpinion
from vision.rims.soft import with_soft_rims
from vision.rims.standing import standing_odds
from vision.shaft.find import ShaftGuess, ShaftNotFound
from vision.shaft.scale_check import depth_remark, scale_check
from vision.shaft_view import MOST_VIEWS_AGAIN, ShaftView, by_network, find_shaft_view, seen_through_own_lens
from vision.square_pixels import shape_remark, with_shape
from vision.stated import without_contradictions

# An end that is not seen may lie beyond the part of the shaft that was.
_END_HIDDEN = (Reason.SEAL_HIDDEN, Reason.FAR_END_HIDDEN)
BACKWARDS_REMARK = (
    "The card lies backwards: its arrow points away from the seal. It was read the other way round, by the looks of "
    "both ends: check on the overlay that the seal is the seal."
)


@dataclass(frozen=True)
class Trace:
    """Intermediate results, for inspecting a reading; None where it did not come so far.

    `covered` names the ends that were left out because something lies over or before them, or a second edge.
    """

    seen: ShaftView | None = None
    choice: Choice | None = None
    final: Solution | None = None
    second: SecondOpinion | None = None
    covered: tuple[RimName, ...] = ()


def read(
    pixels: np.ndarray,
    request: Request,
    hand: HandMarks | None = None,
    card: CardSighting | None = None,
) -> Reading:
    """Read one photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        RGB, in any orientation.
    request : Request
    hand : HandMarks, optional
        Rims set by hand: shaft and rims are then not searched.
    card : CardSighting, optional
        The card, if it has already been detected in this photo.

    Returns
    -------
    Reading
        Never raises for the photo's content: what cannot be read is a reason in it.
    """
    asked = _prepared(pixels, request, card)
    if isinstance(asked, Reading):
        return asked
    if hand is not None:
        return _with_remark(read_by_hand(pixels, asked[0], hand, asked[1]), asked[0])
    return _read(pixels, *asked)[0]


def read_traced(
    pixels: np.ndarray, request: Request, card: CardSighting | None = None
) -> tuple[Reading, Trace]:
    """Read as `read` does, and return the intermediate results."""
    asked = _prepared(pixels, request, card)
    return (asked, Trace()) if isinstance(asked, Reading) else _read(pixels, *asked)


def _prepared(
    pixels: np.ndarray, request: Request, card: CardSighting | None
) -> tuple[Request, CardSighting] | Reading:
    """Detect the card, and let it say what was done to the photo; a refused reading where either cannot be used."""
    sighting = card or detect_card(pixels)
    if isinstance(sighting, Reading):
        return sighting
    camera = request.camera(pixels.shape[1], pixels.shape[0])
    sighting = without_stray_corners(
        sighting, camera, request.declared, request.centre_sd_px, request.reshaped
    )
    shaped = with_shape(pixels, request, sighting)
    return shaped if isinstance(shaped, Reading) else (shaped, sighting)


def _with_remark(reading: Reading, request: Request) -> Reading:
    remark = shape_remark(request)
    return replace(reading, remarks=(*reading.remarks, remark)) if remark else reading


def _read(pixels: np.ndarray, request: Request, sighting: CardSighting) -> tuple[Reading, Trace]:
    reading, trace = _read_either_way(pixels, request, sighting)
    return _with_remark(reading, request), trace


def _read_either_way(pixels: np.ndarray, request: Request, sighting: CardSighting) -> tuple[Reading, Trace]:
    """Read the photo as the card's arrow says, or the other way round where the ends show that it lies backwards."""
    reading, trace = _read_one_way(pixels, request, sighting)
    if trace.seen is not None and any(note.reason in _END_HIDDEN for note in reading.notes):
        longer, longer_trace = _read_one_way(pixels, request, sighting, than=trace.seen.guess)
        if longer.known > reading.known and not _shows_covered(longer_trace, trace.covered):
            return longer, longer_trace
        reading = without_disagreement(reading, longer)
    if reading.reason is not Reason.CARD_BACKWARDS:
        return reading, trace
    laid_right = trace.choice.laid_right if trace.choice is not None else None
    if laid_right is None or laid_right > 1 - LAID_RIGHT:
        return reading, trace
    # The looks of both ends are weighed once: turned round, the network that follows the card would be misled anew.
    turned = replace(request, laid_right=1 - laid_right)
    other, other_trace = _read_one_way(pixels, turned, sighting.turned_round())
    if other.status is Status.REFUSED:
        return reading, trace
    return replace(other, remarks=(*other.remarks, BACKWARDS_REMARK)), other_trace


def _read_one_way(
    pixels: np.ndarray,
    request: Request,
    sighting: CardSighting,
    than: ShaftGuess | None = None,
) -> tuple[Reading, Trace]:
    """Read the photo with the seal at the end of the card that its arrow, as seen, points to.

    `than` as in `find_shaft_view`.
    """
    nothing = Reading(Status.REFUSED, card=sighting.number)
    known, trace = nothing, Trace()
    try:
        seen, twin = find_shaft_view(pixels, request, sighting, than)
        trace = Trace(seen)
        with in_parallel(twin) as twin_remarks:
            known = with_geometry(known, seen.fit.solution, request)
            fit, remarks = with_focal_checked(seen.fit)
            seen = replace(seen, fit=fit)
            trace = Trace(seen)
            known = replace(known, remarks=remarks, shaft_edges_px=silhouettes(fit.solution, *seen.span_mm))
            scale = scale_check(fit)
            known = replace(known, scale=scale)
            seen = replace(seen, fit=check_consistent(seen, sighting, scale))
            said = (bend_remark(fit.solution), depth_remark(scale))
            known = replace(known, remarks=(*known.remarks, *(remark for remark in said if remark)))
            reading, trace = _measured(pixels, seen, known, request)
            for _ in range(MOST_VIEWS_AGAIN):
                again = seen_through_own_lens(pixels, request, seen, trace.final)
                if again is None:
                    break
                seen = again
                reading, trace = _measured(pixels, seen, known, request)
            reading, trace = _with_other_networks(pixels, known, request, reading, trace)
        return replace(reading, remarks=(*reading.remarks, *twin_remarks)), trace
    except Contradiction as e:
        return replace(known, notes=(e.note,)), trace
    except ShaftNotFound as e:
        where = placed_outline_px(pixels, request, sighting)
        return replace(nothing, notes=(Note(e.reason, None, e.message),), card_outline_px=where), trace
    except CalibrationError as e:
        return replace(known, notes=(Note(Reason.CARD_HIDDEN, None, e.message),)), trace


def _with_other_networks(
    pixels: np.ndarray, known: Reading, request: Request, reading: Reading, trace: Trace
) -> tuple[Reading, Trace]:
    """Ask other part segmentations where lengths are open: the third in the second's place, then both that are new.

    A reading is believed if it leaves fewer lengths open than the one before it. Not where the looks of the ends, the
    third's among them, leave open which one is the seal; nor where any two readings disagree about a length, nor of a
    marker where those before see no band at all, nor of an end where the first and the second see the shaft go on: two
    networks against one would have to be weighed there, and nothing says how far those err together that know the same
    photographs.

    Where all agree, each end is taken from the look that sees it most clearly, if that leaves fewer lengths open still.
    """
    assert trace.seen is not None and trace.second is not None
    before, looks, covered = (trace.seen, trace.second), [reading], set(trace.covered)
    traces = [trace]
    seen, second = before[0], before[1].by_network(OTHER_PARTS[1])
    for first in FIRST_PARTS:
        if reading.reason in (None, Reason.CARD_BACKWARDS):
            break
        if first != second.first:
            seen = by_network(seen, request.declared.diameter_mm, first)
            second = second.beside(first)
        other, other_trace = _measured(pixels, seen, known, request, second)
        agreed = all(agree(one, other) for one in looks) and not marker_of_one(reading, other)
        agreed = agreed and not _shows_covered(other_trace, covered)
        agreed = agreed and not _by_new_ones_alone(other_trace, *before)
        looks.append(other)
        covered |= set(other_trace.covered)
        if agreed:
            traces.append(other_trace)
            if other.known[0] > reading.known[0]:
                reading, trace = other, other_trace
    if reading.reason in (None, Reason.CARD_BACKWARDS) or covered or len(traces) < len(looks):
        return reading, trace
    return _with_clearest_ends(before[0], known, request, reading, trace, traces)


def _with_clearest_ends(
    seen: ShaftView, known: Reading, request: Request, reading: Reading, trace: Trace, traces: list[Trace]
) -> tuple[Reading, Trace]:
    """Take each end from the look that sees it most clearly, if that leaves fewer lengths open; `traces` all agree."""
    choices = [one.choice for one in traces if one.choice is not None and one.final is not None]
    if trace.choice is None or len(choices) < len(traces):
        return reading, trace
    best = with_clearest_ends(trace.choice, choices, seen.fit.solution)
    if best is trace.choice:
        return reading, trace
    together, its_trace = _solved(seen, known, request, best, trace.second)
    return (together, its_trace) if together.known[0] > reading.known[0] else (reading, trace)


def _shows_covered(trace: Trace, covered: Collection[RimName]) -> bool:
    """Whether an end was found that something covers in another look at the photo.

    What a splash or a fender shows of its own outline differs from look to look, and may be a circle in one; nor
    does each look show a seam.
    """
    return trace.choice is not None and not trace.choice.rims.keys().isdisjoint(covered)


def _by_new_ones_alone(trace: Trace, seen: ShaftView, second: SecondOpinion) -> bool:
    """Whether the other networks have put an end where the first and the second see bare shaft go on."""
    if trace.choice is None or trace.second is None:
        return False
    networks = (seen.classes, second.alone, trace.second.alone)
    return bool(shaft_goes_on(trace.choice.unrefined, networks, seen.frame))


def _measured(
    pixels: np.ndarray, seen: ShaftView, known: Reading, request: Request, second: SecondOpinion | None = None
) -> tuple[Reading, Trace]:
    """Choose the rims in the view along the shaft, and measure the lengths between them."""
    diameter_mm, cylinder = request.declared.diameter_mm, seen.frame.cylinder
    refiner = RimRefiner(pixels, cylinder, seen.frame.camera, diameter_mm)
    second = second or SecondOpinion(seen.view, seen.frame, diameter_mm, known.card_outline_px)
    evidence = Evidence(
        BandColour(seen.view, request.marker_color) if request.marker_color else None,
        request.stated,
        standing_odds(request.layout, cylinder, request.quarter_turns),
        BandOutline(pixels, seen.frame),
        request.laid_right,
    )
    choice = choose_by_both(seen.parts, request.layout, request.marker_width_mm, refiner, second, evidence)
    if choice.refusal is not None:
        return replace(known, notes=(choice.refusal,)), Trace(seen, choice, second=second)
    if cut := cut_off(choice.unrefined, seen.frame, (pixels.shape[1], pixels.shape[0])):
        choice = without_ends(choice, cut, request.layout, CUT_OFF)
    if either := second_edges(choice.unrefined, seen.classes, second, seen.frame):
        choice = without_ends(choice, either, request.layout, SECOND_EDGE)
    choice = with_soft_rims(choice, seen.fit.observations.sighting.blur_along_px)
    reading, trace = _solved(seen, known, request, choice, second)
    return reading, replace(trace, covered=(*trace.covered, *either))


def _solved(
    seen: ShaftView, known: Reading, request: Request, choice: Choice, second: SecondOpinion | None
) -> tuple[Reading, Trace]:
    """Measure the lengths between the rims chosen, without ends that are no circles round the shaft."""
    reading, final = lengths(known, seen.fit, choice)
    covered = () if reading.joint is None else out_of_round(reading.joint, choice)
    if covered:
        choice = without_ends(choice, covered, request.layout, OUT_OF_ROUND)
        reading, final = lengths(known, seen.fit, choice)
    covered += (RimName.FAR_END,) if choice.aslant else ()
    if request.stated is not None:
        reading = without_contradictions(reading, request.stated)
    return with_geometry(reading, final, request), Trace(seen, choice, final, second, covered)
