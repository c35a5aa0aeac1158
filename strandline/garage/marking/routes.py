"""Pages and answers of marking by hand."""

from __future__ import annotations

import asyncio
import threading
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from concurrent.futures import Future
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from strandline.garage.marking.kept import DrawJob, marks_path, now, read_marks, record_by_hand, write_marks
from strandline.garage.marking.learning import Learning, truth_of
from strandline.garage.marking.sight import Sight, SightJob
from strandline.garage.marking.solve import Placed, measure
from strandline.garage.marking.wire import marks_fields, measured_fields, placed_from, sight_fields
from strandline.garage.photos.reading import inputs_for
from strandline.garage.photos.store import StoredPhoto
from strandline.garage.photos.to_logbook import reading_of
from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import Garage, garage_of, visitor_of
from strandline.garage.server.pages import html
from strandline.read.hand_marks import MarksError
from strandline.ride.by_hand import corrected_ride
from strandline.shared.messages import ROOM_ERRORS
from strandline.shared.worker import Lost

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

# Photos whose sight is held, some 50 kB each; one that is looked at again later is looked at anew.
MOST_SIGHTS = 40
# A page waits so long for its photo's sight, s: the whole reading of a large photo on a slow machine.
SIGHT_S = 30.0


class Sights:
    """What was seen in the photos that were marked last."""

    def __init__(self) -> None:
        self._found: OrderedDict[str, Future[Any]] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, garage: Garage, photo: StoredPhoto) -> Future[Any]:
        """Have a photo looked at, once; again where its worker was stopped."""
        with self._lock:
            found = self._found.get(photo.id)
            if found is None or (found.done() and not isinstance(found.result(), Sight)):
                job = SightJob(garage.store.path(photo.id), inputs_for(garage.settings, photo.subject))
                found = self._found[photo.id] = garage.workers.submit(job)
            self._found.move_to_end(photo.id)
            while len(self._found) > MOST_SIGHTS:
                self._found.popitem(last=False)
            return found


def _sights(request: Request) -> Sights:
    """Find those of this server."""
    state = request.app.state
    if not hasattr(state, "sights"):
        state.sights = Sights()
    found: Sights = state.sights
    return found


def learning_of(request: Request) -> Learning:
    """Find the folder of photos with a hand's truth."""
    own = garage_of(request).settings.folder / "learning"
    return Learning(getattr(request.app.state, "learning", own))


async def _sight(request: Request) -> tuple[Garage, StoredPhoto, Sight]:
    from starlette.concurrency import run_in_threadpool

    garage = garage_of(request)
    photo = garage.store.get(request.path_params["photo_id"])
    if photo.is_waiting or not photo.sha256:
        raise MarksError("This photo was not opened.", "Take it again.")
    running = await run_in_threadpool(_sights(request).of, garage, photo)
    await asyncio.wait([asyncio.wrap_future(running)], timeout=SIGHT_S)
    found = running.result() if running.done() else None
    if not isinstance(found, Sight):
        raise MarksError("The photo could not be looked at.", "Try again in a moment.")
    return garage, photo, found


def _answering(page: Callable[[Request], Awaitable[Response]]) -> Callable[[Request], Awaitable[Response]]:
    """Let a page's script get errors as it gets answers."""

    async def answer(request: Request) -> Response:
        from starlette.responses import JSONResponse

        try:
            return await page(request)
        except ROOM_ERRORS as error:
            return JSONResponse({"what": error.message, "advice": error.remedy}, 400)

    return answer


async def begin(request: Request) -> Response:
    """Give the marks to begin with: the hand's where it kept some, else the program's."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import JSONResponse

    garage, photo, sight = await _sight(request)
    fields = sight_fields(sight)
    kept = read_marks(garage.store, photo.id)
    if kept is not None:
        fields |= {
            "kept": {
                "marks": marks_fields(kept.marks),
                "set": sorted(kept.set_by_hand),
                "left_out": sorted(kept.left_out),
            }
        }
    if sight.card is not None:
        start = kept or Placed(sight.offered)
        fields["measured"] = await run_in_threadpool(_measured, garage, photo, sight, start)
    return JSONResponse(fields)


def _measured(garage: Garage, photo: StoredPhoto, sight: Sight, placed: Placed) -> dict[str, Any]:
    inputs = inputs_for(garage.settings, photo.subject)
    return measured_fields(measure(sight, inputs, placed), inputs)


async def _placed(request: Request) -> tuple[Garage, StoredPhoto, Sight, Placed]:
    garage, photo, sight = await _sight(request)
    if sight.card is None:
        raise MarksError(sight.what, sight.advice)
    body = await asyncio.wait_for(request.body(), garage.settings.limits.piece_s)
    return garage, photo, sight, placed_from(body, photo.size_px)


async def solve(request: Request) -> Response:
    """Measure what was marked; nothing is kept."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import JSONResponse

    garage, photo, sight, placed = await _placed(request)
    return JSONResponse(await run_in_threadpool(_measured, garage, photo, sight, placed))


async def keep(request: Request) -> Response:
    """Keep what was marked as the photo's reading."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import JSONResponse

    garage, photo, sight, placed = await _placed(request)
    who = visitor_of(request).name
    kept = await run_in_threadpool(_keep, garage, photo, sight, placed, who)
    await run_in_threadpool(_keep_for_learning, learning_of(request), garage, kept, placed)
    said = await run_in_threadpool(_correct, request, garage, kept)
    return JSONResponse({"page": f"/photo/{photo.id}", "said": said})


def _keep(garage: Garage, photo: StoredPhoto, sight: Sight, placed: Placed, who: str) -> StoredPhoto:
    inputs = inputs_for(garage.settings, photo.subject)
    record = record_by_hand(sight, inputs, placed)
    job = DrawJob(garage.store.path(photo.id), garage.store.drawn_path(photo.id), sight, inputs, placed)
    if isinstance(garage.workers.submit(job).result(), Lost):
        raise MarksError("The reading could not be drawn.", "Keep it again in a moment.")
    write_marks(garage.store, photo.id, placed)
    _say_nothing_else(garage, photo)
    return garage.store.change(photo.id, by_hand=record, by_hand_who=who, by_hand_when=now())


def _say_nothing_else(garage: Garage, photo: StoredPhoto) -> None:
    """Let the marks count in the ride in progress: what was said of the leg before is taken back."""
    draft, leg = garage.rides.begun(photo.subject.bike), photo.subject.leg.value
    if draft is None or photo.subject.purpose != "ride" or draft.number != photo.subject.draft:
        return
    changed = replace(
        draft,
        typed=tuple(one for one in draft.typed if one[0] != leg),
        at_stop=tuple(one for one in draft.at_stop if one != leg),
        no_marker=tuple(one for one in draft.no_marker if one != leg),
    )
    if changed != draft:
        garage.rides.keep(photo.subject.bike, changed)


def _keep_for_learning(learning: Learning, garage: Garage, kept: StoredPhoto, placed: Placed) -> None:
    assert kept.by_hand is not None
    truth = truth_of(inputs_for(garage.settings, kept.subject), placed, kept.by_hand, kept.automatic)
    learning.keep(garage.store.path(kept.id), truth, kept.sha256[:16])


def _correct(request: Request, garage: Garage, kept: StoredPhoto) -> str:
    """Correct the ride that has this photo, and tell the command that opened the page."""
    reading = reading_of(kept)
    # A photo from this machine's own disk is known to the logbook by its file.
    original = getattr(request.app.state, "originals", {}).get(kept.id)
    if original is not None:
        name, sha256 = original
        origin = replace(reading.provenance, photo_name=name, photo_sha256=sha256)
        reading = replace(reading, provenance=origin)
    number = corrected_ride(garage.settings.logbook, reading)
    said = "" if number is None else f"Ride {number} is corrected."
    on_kept = getattr(request.app.state, "on_kept", None)
    if on_kept is not None:
        on_kept(kept, said)
    return said


def drop(request: Request, form: Form) -> Response:
    """Let the program's own reading count again; a ride that was recorded keeps the hand's."""
    from starlette.responses import RedirectResponse

    garage = garage_of(request)
    photo = garage.store.get(request.path_params["photo_id"])
    marks_path(garage.store, photo.id).unlink(missing_ok=True)
    garage.store.change(photo.id, by_hand=None, by_hand_who="", by_hand_when="")
    garage.workers.submit(_redraw_job(garage, photo)).result()
    return RedirectResponse(f"/photo/{photo.id}", 303)


def _redraw_job(garage: Garage, photo: StoredPhoto) -> Any:
    from strandline.garage.marking.redraw import RedrawJob

    inputs = inputs_for(garage.settings, photo.subject)
    return RedrawJob(garage.store.path(photo.id), garage.store.drawn_path(photo.id), inputs)


def learning_page(request: Request) -> Response:
    """Show what is kept for learning, and how often the program was right."""
    found = learning_of(request)
    visitor = visitor_of(request)
    return html(request, "learning.html", learning=found, score=found.score(), is_laptop=visitor.is_laptop)


def switch_learning(request: Request, form: Form) -> Response:
    """Switch keeping on or off, or delete what is kept."""
    from starlette.responses import RedirectResponse

    found = learning_of(request)
    wish = form.text("wish")
    if wish in ("on", "off"):
        found.switch(wish == "on")
    elif wish == "forget":
        found.forget()
    return RedirectResponse("/learning", 303)


def _routes() -> list[Any]:
    from starlette.routing import Route

    return [
        Route("/photo/{photo_id}/marks", _answering(begin)),
        Route("/photo/{photo_id}/marks", _answering(solve), methods=["POST"]),
        Route("/photo/{photo_id}/marks/keep", _answering(keep), methods=["POST"]),
        Route("/photo/{photo_id}/marks/drop", taking_form(drop), methods=["POST"]),
        Route("/learning", learning_page),
        Route("/learning", taking_form(switch_learning), methods=["POST"]),
    ]


routes = _routes()
