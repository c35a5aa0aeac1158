"""Sag by photo: the bike on its wheels and with its rider aboard, each risen and settled, and what it comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from urllib.parse import quote

from ridelog.bikes.bike import BikeLeg
from ridelog.errors import RecordError
from ridelog.names import End, LegName, Use
from ridelog.storage.records import Approach, SagMeasurement
from ridelog.storage.store import Logbook
from strandline.facts.photo_readings import PhotoReading, log_sag_length
from strandline.garage.bikes import BikeNamed
from strandline.garage.photos.store import StoredPhoto
from strandline.garage.server.drafts import SagDraft
from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import Garage, bike_of, garage_of, visitor_of
from strandline.garage.server.pages import html
from strandline.sag.contradictions import how_it_stands, what_contradicts
from strandline.sag.parse import SagOptions
from strandline.sag.session import SagRequest, SagResult, keep_sag, latest_sag, measured_sag
from strandline.sag.text import sag_lines
from strandline.shared.messages import ROOM_ERRORS, error_text
from strandline.shared.storage import place, typed_by
from strandline.shared.units import estimate_text, in_units
from suspension.quantities.print_scale import print_scale
from suspension.stroke.leg import State
from suspension.stroke.shaft_lengths import ShaftLengths
from vision.names import LengthName

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

STANDS = (
    (State.ON_WHEELS, "On its wheels, nobody on it"),
    (State.RIDER_ABOARD, "Rider aboard in full gear, feet on the pegs"),
)
APPROACHES = (
    (Approach.FROM_BELOW, "risen", "Lift the bike, let it come down slowly"),
    (Approach.FROM_ABOVE, "settled", "Push it down, let it come up slowly"),
)


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/bike/{bike}/sag", show_sag),
        Route("/bike/{bike}/sag", taking_form(take_sag), methods=["POST"]),
        Route("/bike/{bike}/sag/{leg}/{state}/{approach}", show_place),
    ]


@dataclass(frozen=True)
class Slot:
    """A photo of one leg, one stand and one approach.

    Attributes
    ----------
    leg : LegName
    state : State
    approach : Approach
    words : str
        "risen" or "settled".
    photo : StoredPhoto or None
        The last good one; without one, the last.
    value : str
        The exposed length, or what is the matter.
    """

    leg: LegName
    state: State
    approach: Approach
    words: str
    photo: StoredPhoto | None
    value: str


def show_sag(request: Request) -> Response:
    """Show which photos there are, and the latest sag that is kept."""
    return _page(request)


def take_sag(request: Request, form: Form) -> Response:
    """Keep what was typed; then work the sag out, and record it."""
    from starlette.responses import RedirectResponse

    garage, named = garage_of(request), bike_of(request)
    here = f"/bike/{quote(named.stem)}/sag"
    with garage.recording:
        before = garage.sags.of(named.stem)
        if form.text("number") not in ("", before.number):  # recorded or dropped meanwhile
            return RedirectResponse(here, 303)
        legs = [one.name.value for one in named.bike.legs]
        draft = replace(
            before,
            load=form.text("load"),
            print_scale=form.text("print_scale"),
            lengths=tuple((one.value, text) for one in End if (text := form.text(f"length:{one.value}"))),
            exposed=tuple((one, text) for one in legs if (text := form.text(f"exposed:{one}"))),
        )
        garage.sags.keep(named.stem, draft)
        try:
            print_scale(draft.print_scale or None)
            if form.text("go") == "record":
                _record(request, garage, named, draft)
        except ROOM_ERRORS as error:
            return _page(request, problem=error_text(error))
        if form.text("go") in ("record", "drop"):
            garage.sags.end(named.stem)
    return RedirectResponse(here, 303)


def show_place(request: Request) -> Response:
    """Show how to take one photo of sag."""
    from starlette.exceptions import HTTPException

    garage, named = garage_of(request), bike_of(request)
    leg = named.bike.leg(request.path_params["leg"])
    slots = [one for one in _slots(garage, named, leg) if _place_of(one) == _asked(request)]
    if not slots:
        raise HTTPException(404)
    return html(
        request,
        "sag_photo.html",
        stem=named.stem,
        bike=named.bike,
        leg=leg,
        slot=slots[0],
        stand=dict(STANDS)[slots[0].state],
        how=next(how for approach, _, how in APPROACHES if approach is slots[0].approach),
        draft=garage.sags.of(named.stem),
    )


def _asked(request: Request) -> tuple[str, str]:
    return request.path_params["state"], request.path_params["approach"]


def _place_of(slot: Slot) -> tuple[str, str]:
    return slot.state.value, slot.approach.value


def _slots(garage: Garage, named: BikeNamed, leg: BikeLeg) -> Iterator[Slot]:
    photos = garage.store.of_draft(garage.sags.of(named.stem).number)
    for state, _ in STANDS:
        for approach, words, _ in APPROACHES:
            subject = (leg.name, state, approach)
            same = [
                one for one in photos if (one.subject.leg, one.subject.state, one.subject.approach) == subject
            ]
            good = [one for one in same if _exposed(one) is not None]
            photo = next(iter(reversed(good or same)), None)
            yield Slot(*subject, words, photo, _value(garage, photo))


def _exposed(photo: StoredPhoto) -> object | None:
    return None if photo.record is None else photo.record.lengths.get(LengthName.EXPOSED)


def _value(garage: Garage, photo: StoredPhoto | None) -> str:
    if photo is None:
        return ""
    if photo.is_waiting:
        return "being read"
    exposed = None if photo.record is None else photo.record.lengths.get(LengthName.EXPOSED)
    return "not read, take it again" if exposed is None else estimate_text(exposed, garage.settings.units)


def _page(request: Request, problem: str = "") -> Response:
    garage, named = garage_of(request), bike_of(request)
    draft = garage.sags.of(named.stem)
    wanted = _request(request, named, draft)
    result = _latest(garage, wanted)
    lines: tuple[str, ...] = ()
    if result is not None:
        units, path = garage.settings.units, garage.settings.logbook
        said = (*how_it_stands(path, wanted, result), *what_contradicts(path, result, named.bike))
        lines = (
            *(line for one in result.sags for line in sag_lines(one, units)),
            *(in_units(words, units) for words in said),
        )
    return html(
        request,
        "sag.html",
        stem=named.stem,
        bike=named.bike,
        draft=draft,
        stands=STANDS,
        legs=[(one.name, tuple(_slots(garage, named, one))) for one in named.bike.legs],
        ends=list(dict.fromkeys(one.name.end.value for one in named.bike.legs)),
        result=result,
        lines=lines,
        problem=problem,
    )


def _request(request: Request, named: BikeNamed, draft: SagDraft) -> SagRequest:
    who = visitor_of(request).name or None
    options = SagOptions(
        tuple(f"{where}={text}" for where, text in draft.lengths),
        tuple(f"{where}={text}" for where, text in draft.exposed),
        print_scale=draft.print_scale or None,
        who=who,
    )
    use: Use | None = named.bike.use
    return SagRequest(named.file, use, draft.load or None, None, typed_by(who), options)


def _record(request: Request, garage: Garage, named: BikeNamed, draft: SagDraft) -> None:
    wanted = _request(request, named, draft)
    read = [
        _measured(one.photo)
        for leg in named.bike.legs
        for one in _slots(garage, named, leg)
        if one.photo is not None and _exposed(one.photo) is not None
    ]
    if not read and not wanted.options.says_anything:
        raise RecordError("Nothing was measured yet.", "Take a photo, or type a length.")
    result = measured_sag(wanted, read)
    with Logbook.open(place(garage.settings.logbook), create=True) as logbook:
        keep_sag(logbook, wanted, result.session)


def _measured(photo: StoredPhoto) -> SagMeasurement:
    record, subject = photo.record, photo.subject
    assert record is not None
    lengths = ShaftLengths(record.lengths.get(LengthName.EXPOSED))
    read = PhotoReading(
        photo.file_name, photo.sha256, lengths, record.marker, subject.state, None, photo.by_hand is not None
    )
    return log_sag_length(subject.leg, read, subject.approach, photo.by_hand_who or photo.who)


def _latest(garage: Garage, wanted: SagRequest) -> SagResult | None:
    path = place(garage.settings.logbook)
    if not path.exists():
        return None
    try:
        with Logbook.open(path, create=False) as logbook:
            return latest_sag(logbook, replace(wanted, load=None))
    except RecordError:
        return None
