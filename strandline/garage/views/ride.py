"""The ride in progress: its legs, its settings, what is missing; recording it; and rides as they were recorded."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from urllib.parse import quote

from ridelog.bikes.bike import Adjuster, Bike
from ridelog.errors import RecordError
from ridelog.names import AdjusterKind, End, Felt
from ridelog.storage.records import Ride
from ridelog.storage.store import Logbook
from strandline.facts.events import open_events
from strandline.facts.readings import bike_then, bikes_then
from strandline.garage.bikes import BikeNamed, bike_named
from strandline.garage.photos.to_logbook import seen_photo
from strandline.garage.server.drafts import RideDraft
from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import Garage, garage_of, visitor_of
from strandline.garage.server.pages import html
from strandline.garage.views.legs_now import legs_now
from strandline.ride.parse import RideOptions, readings
from strandline.ride.record import record_ride
from strandline.ride.text import ride_lines
from strandline.shared.messages import ROOM_ERRORS, error_text
from strandline.shared.options import STATES
from strandline.shared.storage import place, typed_by
from strandline.shared.units import setting_text
from suspension.quantities.print_scale import print_scale
from suspension.stroke.leg import State

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

_BARE = re.compile(r"\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unsure>\??)\s*")
STATE_WORDS = {"hanging": "Wheel hanging free", "on-wheels": "On its wheels", "rider-aboard": "Rider aboard"}


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/bike/{bike}/ride", show_ride),
        Route("/bike/{bike}/ride", taking_form(take_ride), methods=["POST"]),
        Route("/bike/{bike}/ride/state", ride_state),
        Route("/bike/{bike}/ride/{leg}", show_leg),
        Route("/bike/{bike}/ride/{leg}", taking_form(take_leg), methods=["POST"]),
        Route("/bike/{bike}/history", history),
        Route("/bike/{bike}/recorded/{number:int}", recorded),
    ]


@dataclass(frozen=True)
class Counter:
    """A field for an adjuster's count.

    Attributes
    ----------
    key : str
        "front.preload", or with the leg where the sides differ.
    label : str
    kind : AdjusterKind
    counted_from : str
    value : str
        As typed before.
    last : str
        As of the last ride, for a look.
    """

    key: str
    label: str
    kind: AdjusterKind
    counted_from: str
    value: str
    last: str


def show_ride(request: Request) -> Response:
    """Show the ride in progress; one is begun where there is none."""
    return _ride_page(request, _named(request))


def take_ride(request: Request, form: Form) -> Response:
    """Keep what was said of the ride; then go to a leg, or record it."""
    from starlette.responses import RedirectResponse

    garage, named = garage_of(request), _named(request)
    draft = garage.rides.keep(named.stem, _filled(garage.rides.of(named.stem), form, named.bike))
    where, go = f"/bike/{quote(named.stem)}/ride", form.text("go")
    if go == "drop":
        garage.rides.end(named.stem)
        return RedirectResponse(f"/bike/{quote(named.stem)}", 303)
    if go == "record":
        try:
            return _record(request, garage, named, draft)
        except ROOM_ERRORS as error:
            return _ride_page(request, named, problem=error_text(error))
    legs = [one.name.value for one in named.bike.legs]
    return RedirectResponse(f"{where}/{go}" if go in legs else where, 303)


def ride_state(request: Request) -> Response:
    """Give a check sum of all that the ride's page shows, by which a page notices what another phone did."""
    from starlette.responses import PlainTextResponse

    garage, named = garage_of(request), _named(request)
    return PlainTextResponse(_state_of(garage, named))


def show_leg(request: Request) -> Response:
    """Show how to take a leg's photo, and the button that takes it."""
    return _leg_page(request)


def take_leg(request: Request, form: Form) -> Response:
    """Note what is known of a leg without a photo."""
    from starlette.responses import RedirectResponse

    garage, named = garage_of(request), _named(request)
    leg = named.bike.leg(request.path_params["leg"]).name.value
    draft = garage.rides.of(named.stem)
    typed = tuple(one for one in draft.typed if one[0] != leg)
    cleared = replace(
        draft,
        typed=typed,
        at_stop=tuple(one for one in draft.at_stop if one != leg),
        no_marker=tuple(one for one in draft.no_marker if one != leg),
    )
    says = form.text("says")
    if says == "at-stop":
        cleared = replace(cleared, at_stop=(*cleared.at_stop, leg))
    elif says == "no-marker":
        cleared = replace(cleared, no_marker=(*cleared.no_marker, leg))
    elif says == "typed" and form.text("lengths"):
        text = form.text("lengths")
        try:
            options = RideOptions(readings=(f"{leg}={text}",), states=(form.given("state") or draft.state,))
            tuple(readings(options, named.bike, typed_by(None)))
        except ROOM_ERRORS as error:
            return _leg_page(request, problem=error_text(error), lengths=text)
        cleared = replace(cleared, typed=(*typed, (leg, text)))
    garage.rides.keep(named.stem, cleared)
    return RedirectResponse(f"/bike/{quote(named.stem)}/ride", 303)


def history(request: Request) -> Response:
    """List the rides, the newest first."""
    garage, named = garage_of(request), _named(request)
    path, rides = place(garage.settings.logbook), []
    if path.exists():
        with Logbook.open(path, create=False) as logbook:
            known = logbook.bikes.find(named.bike.name)
            found = () if known is None else logbook.rides.all_rides(known.id)
            bikes = bikes_then(logbook, found, None if known is None else known.id)
        for one in reversed(found):
            head, *rest = ride_lines(one, bikes[one.entry.bike_version_id], garage.settings.units)
            rides.append((one.number, head, tuple(rest)))
    return html(request, "history.html", stem=named.stem, bike=named.bike, rides=rides)


def recorded(request: Request) -> Response:
    """Show a ride that was recorded."""
    garage, named = garage_of(request), _named(request)
    with Logbook.open(place(garage.settings.logbook), create=False) as logbook:
        ride = logbook.rides.get(request.path_params["number"])
        then = bike_then(logbook, ride)
    lines = tuple(ride_lines(ride, then, garage.settings.units))
    return html(
        request, "recorded.html", stem=named.stem, bike=named.bike, ride=ride, lines=lines, cautions=()
    )


def _named(request: Request) -> BikeNamed:
    return bike_named(garage_of(request).settings, request.path_params["bike"])


def _ride_page(request: Request, named: BikeNamed, problem: str = "") -> Response:
    garage = garage_of(request)
    draft = garage.rides.of(named.stem)
    legs = legs_now(named.bike, draft, garage.store.of_draft(draft.number), garage.settings.units)
    before = _rides_before(garage, named.bike)
    return html(
        request,
        "ride.html",
        400 if problem else 200,
        stem=named.stem,
        bike=named.bike,
        draft=draft,
        legs=legs,
        missing=[one.leg for one in legs if not one.is_done],
        counters=tuple(_counters(named.bike, draft, before)),
        loads=tuple(dict.fromkeys(one.load_case.name for one in before if one.load_case is not None)),
        routes_ridden=tuple(dict.fromkeys(one.entry.route for one in before if one.entry.route)),
        felt=[one.value for one in Felt],
        open_events=tuple(open_events(reversed(before))),
        ends=list(dict.fromkeys(one.name.end.value for one in named.bike.legs)),
        state=_state_of(garage, named),
        problem=problem,
    )


def _leg_page(request: Request, problem: str = "", lengths: str = "") -> Response:
    garage, named = garage_of(request), _named(request)
    leg = named.bike.leg(request.path_params["leg"])
    draft = garage.rides.of(named.stem)
    legs = legs_now(named.bike, draft, garage.store.of_draft(draft.number), garage.settings.units)
    now = next(one for one in legs if one.leg is leg.name)
    return html(
        request,
        "leg.html",
        400 if problem else 200,
        stem=named.stem,
        bike=named.bike,
        leg=leg,
        now=now,
        draft=draft,
        states=[(one, STATE_WORDS[one]) for one in STATES],
        problem=problem,
        lengths=lengths,
    )


def _filled(draft: RideDraft, form: Form, bike: Bike) -> RideDraft:
    """Take over what stands in the form."""
    scale = form.text("print_scale")
    kept_scale = draft.print_scale
    try:
        print_scale(scale or None)
        kept_scale = scale
    except ROOM_ERRORS:
        pass
    return replace(
        draft,
        date=form.text("date"),
        route=form.text("route"),
        load=form.text("load"),
        temperature=form.text("temperature"),
        note=form.text("note"),
        event=form.text("event"),
        print_scale=kept_scale,
        settings=tuple((key, text) for key in _keys(bike) if (text := form.text(f"setting:{key}"))),
        pressures=tuple((end.value, text) for end in End if (text := form.text(f"pressure:{end.value}"))),
        felt=tuple(one for one in form.texts("felt") if one in set(Felt)),
        cleared=form.texts("cleared"),
    )


def _record(request: Request, garage: Garage, named: BikeNamed, draft: RideDraft) -> Response:
    kinds = {one.key: one.kind for one in _counters(named.bike, draft, ())}
    lost = [one.replace("-", " ") for one in draft.no_marker]
    note = " ".join([draft.note, *(f"No marker left: {one}." for one in lost)]).strip()
    who = visitor_of(request).name
    options = RideOptions(
        date=draft.date or None,
        route=draft.route or None,
        load=draft.load or None,
        settings=tuple(f"{key}={_counted(text, kinds[key])}" for key, text in draft.settings),
        readings=tuple(f"{leg}={text}" for leg, text in draft.typed),
        at_stop=draft.at_stop,
        states=(draft.state,) if draft.state else (),
        felt=draft.felt,
        events=(draft.event,) if draft.event else (),
        events_cleared=draft.cleared,
        temperature=draft.temperature or None,
        pressures=tuple(f"{end}={text}" for end, text in draft.pressures),
        note=note or None,
        who=who or None,
        print_scale=draft.print_scale or None,
    )
    legs = legs_now(named.bike, draft, garage.store.of_draft(draft.number), garage.settings.units)
    if any(one.status == "waiting" for one in legs):
        raise RecordError("A photo is still being read.", "Wait a moment, then record the ride.")
    seen = [seen_photo(one.photo) for one in legs if one.status == "read" and one.photo is not None]
    done = record_ride(garage.settings.logbook, named.stem, options, seen)
    garage.rides.end(named.stem)
    lines = tuple(ride_lines(done.ride, done.bike, garage.settings.units))
    return html(
        request,
        "recorded.html",
        stem=named.stem,
        bike=named.bike,
        ride=done.ride,
        lines=lines,
        cautions=done.cautions,
        new_load=done.new_load,
    )


def _rides_before(garage: Garage, bike: Bike) -> tuple[Ride, ...]:
    """List the bike's rides, the newest first."""
    path = place(garage.settings.logbook)
    if not path.exists():
        return ()
    with Logbook.open(path, create=False) as logbook:
        known = logbook.bikes.find(bike.name)
        return () if known is None else tuple(reversed(logbook.rides.all_rides(known.id)))


def _adjusters(bike: Bike) -> Iterator[tuple[str, Adjuster]]:
    """List the adjusters: those that all legs of an end have alike once, for both sides."""
    for end in End:
        legs = [one for one in bike.legs if one.name.end is end]
        names = dict.fromkeys(one.name for leg in legs for one in leg.adjusters)
        for name in names:
            having = [(leg, one) for leg in legs for one in leg.adjusters if one.name == name]
            if len(having) == len(legs) and all(one == having[0][1] for _, one in having):
                yield f"{end.value}.{name}", having[0][1]
            else:
                yield from ((f"{leg.name.value}.{name}", one) for leg, one in having)


def _keys(bike: Bike) -> list[str]:
    return [key for key, _ in _adjusters(bike)]


def _counters(bike: Bike, draft: RideDraft, before: tuple[Ride, ...]) -> Iterator[Counter]:
    typed = dict(draft.settings)
    for key, one in _adjusters(bike):
        where = key.rpartition(".")[0]
        label = f"{where.replace('-', ' ').capitalize()} {one.name}"
        last = _last_count(before, where, one.name)
        yield Counter(key, label, one.kind, one.counted_from.value, typed.get(key, ""), last)


def _last_count(before: tuple[Ride, ...], where: str, name: str) -> str:
    for ride in before:
        for one in ride.settings:
            if one.adjuster == name and where in (one.leg.value, one.leg.end.value):
                return setting_text(one)
    return ""


def _counted(text: str, kind: AdjusterKind) -> str:
    """Put the unit to a bare number: "3" of turns is "3 turns"."""
    found = _BARE.fullmatch(text)
    return text if found is None else f"{found['number']} {kind.value}{found['unsure']}"


def _state_of(garage: Garage, named: BikeNamed) -> str:
    draft = garage.rides.begun(named.stem)
    photos = () if draft is None else garage.store.of_draft(draft.number)
    seen = [(one.id, one.is_waiting, one.is_good, one.by_hand_when) for one in photos]
    return hashlib.sha256(repr((draft, seen)).encode()).hexdigest()[:16]


def photo_state(text: str) -> State:
    """Read how the bike stood."""
    return State(text) if text in STATES else State.UNKNOWN
