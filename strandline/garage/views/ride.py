"""The ride in progress: its legs, its settings, what is missing, and recording it."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING
from urllib.parse import quote

from ridelog.bikes.bike import Bike
from ridelog.errors import RecordError
from ridelog.names import End, Felt
from ridelog.storage.records import Ride
from ridelog.storage.store import Logbook
from strandline.facts.events import open_events
from strandline.garage.bikes import BikeNamed
from strandline.garage.photos.to_logbook import seen_photo
from strandline.garage.server.drafts import RideDraft
from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import Garage, bike_of, garage_of, visitor_of
from strandline.garage.server.pages import html
from strandline.garage.views.counters import counters
from strandline.garage.views.legs_now import legs_now
from strandline.ride.parse import RideOptions, readings
from strandline.ride.record import record_ride
from strandline.shared.messages import ROOM_ERRORS, error_text
from strandline.shared.photo_options import STATES
from strandline.shared.storage import place, typed_by
from suspension.quantities.print_scale import print_scale

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

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
    ]


def show_ride(request: Request) -> Response:
    """Show the ride in progress; one is begun where there is none."""
    return _ride_page(request, bike_of(request))


def take_ride(request: Request, form: Form) -> Response:
    """Keep what was said of the ride; then go to a leg, or record it."""
    from starlette.responses import RedirectResponse

    garage, named = garage_of(request), bike_of(request)
    own, go = f"/bike/{quote(named.stem)}", form.text("go")
    with garage.recording:
        before = garage.rides.of(named.stem)
        if form.text("number") not in (
            "",
            before.number,
        ):  # recorded or dropped meanwhile, by this phone or another
            return RedirectResponse(f"{own}/history", 303)
        is_old = form.text("state") not in ("", _state_of(garage, named))
        draft = garage.rides.keep(named.stem, _filled(before, form, named.bike, is_old=is_old))
        if go == "drop":
            garage.rides.end(named.stem)
            return RedirectResponse(own, 303)
        try:
            print_scale(draft.print_scale or None)
            if go == "record":
                return RedirectResponse(f"{own}/recorded/{_record(request, garage, named, draft)}", 303)
        except ROOM_ERRORS as error:
            return _ride_page(request, named, problem=error_text(error))
    legs = [one.name.value for one in named.bike.legs]
    return RedirectResponse(f"{own}/ride/{go}" if go in legs else f"{own}/ride", 303)


def ride_state(request: Request) -> Response:
    """Give a check sum of all that the ride's page shows, by which a page notices what another phone did."""
    from starlette.responses import PlainTextResponse

    garage, named = garage_of(request), bike_of(request)
    return PlainTextResponse(_state_of(garage, named))


def show_leg(request: Request) -> Response:
    """Show how to take a leg's photo, and the button that takes it."""
    return _leg_page(request)


def take_leg(request: Request, form: Form) -> Response:
    """Note what is known of a leg without a photo."""
    from starlette.responses import RedirectResponse

    garage, named = garage_of(request), bike_of(request)
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


def _ride_page(request: Request, named: BikeNamed, problem: str = "") -> Response:
    garage = garage_of(request)
    draft = garage.rides.of(named.stem)
    legs = legs_now(named.bike, draft, garage.store.of_draft(draft.number), garage.settings.units)
    before = _rides_before(garage, named.bike)
    return html(
        request,
        "ride.html",
        stem=named.stem,
        bike=named.bike,
        draft=draft,
        legs=legs,
        missing=[one.leg for one in legs if not one.is_done],
        counters=tuple(counters(named.bike, before)),
        loads=tuple(dict.fromkeys(one.load_case.name for one in before if one.load_case is not None)),
        routes_ridden=tuple(dict.fromkeys(one.entry.route for one in before if one.entry.route)),
        felt=[one.value for one in Felt],
        open_events=tuple(open_events(reversed(before))),
        ends=list(dict.fromkeys(one.name.end.value for one in named.bike.legs)),
        state=_state_of(garage, named),
        problem=problem,
    )


def _leg_page(request: Request, problem: str = "", lengths: str = "") -> Response:
    garage, named = garage_of(request), bike_of(request)
    leg = named.bike.leg(request.path_params["leg"])
    draft = garage.rides.of(named.stem)
    legs = legs_now(named.bike, draft, garage.store.of_draft(draft.number), garage.settings.units)
    now = next(one for one in legs if one.leg is leg.name)
    return html(
        request,
        "leg.html",
        stem=named.stem,
        bike=named.bike,
        leg=leg,
        now=now,
        draft=draft,
        states=[(one, STATE_WORDS[one]) for one in STATES],
        problem=problem,
        lengths=lengths,
    )


def _filled(draft: RideDraft, form: Form, bike: Bike, *, is_old: bool) -> RideDraft:
    """Take over what stands in the form; what is empty in an old one does not take away what another phone wrote."""

    def text(name: str, before: str) -> str:
        return form.text(name) or (before if is_old else "")

    settings, pressures = dict(draft.settings), dict(draft.pressures)
    counts = ((one.key, text(f"setting:{one.key}", settings.get(one.key, ""))) for one in counters(bike))
    tyres = ((end.value, text(f"pressure:{end.value}", pressures.get(end.value, ""))) for end in End)
    felt = tuple(one for one in form.texts("felt") if one in set(Felt))
    return replace(
        draft,
        date=text("date", draft.date),
        route=text("route", draft.route),
        load=text("load", draft.load),
        temperature=text("temperature", draft.temperature),
        note=text("note", draft.note),
        event=text("event", draft.event),
        print_scale=text("print_scale", draft.print_scale),
        settings=tuple(one for one in counts if one[1]),
        pressures=tuple(one for one in tyres if one[1]),
        felt=tuple(dict.fromkeys((*draft.felt, *felt))) if is_old else felt,
        cleared=tuple(dict.fromkeys((*draft.cleared, *form.texts("cleared"))))
        if is_old
        else form.texts("cleared"),
    )


def _record(request: Request, garage: Garage, named: BikeNamed, draft: RideDraft) -> int:
    """Record the ride, and give its number."""
    fields = {one.key: one for one in counters(named.bike)}
    lost = [one.replace("-", " ") for one in draft.no_marker]
    note = " ".join([draft.note, *(f"No marker left: {one}." for one in lost)]).strip()
    who = visitor_of(request).name
    options = RideOptions(
        date=draft.date or None,
        route=draft.route or None,
        load=draft.load or None,
        settings=tuple(f"{key}={fields[key].with_unit(text)}" for key, text in draft.settings),
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
    garage.said[done.ride.number] = done
    return done.ride.number


def _rides_before(garage: Garage, bike: Bike) -> tuple[Ride, ...]:
    """List the bike's rides, the newest first."""
    path = place(garage.settings.logbook)
    if not path.exists():
        return ()
    with Logbook.open(path, create=False) as logbook:
        known = logbook.bikes.find(bike.name)
        return () if known is None else tuple(reversed(logbook.rides.all_rides(known.id)))


def _state_of(garage: Garage, named: BikeNamed) -> str:
    draft = garage.rides.begun(named.stem)
    photos = () if draft is None else garage.store.of_draft(draft.number)
    seen = [(one.id, one.is_waiting, one.is_good, one.by_hand_when) for one in photos]
    return hashlib.sha256(repr((draft, seen)).encode()).hexdigest()[:16]
