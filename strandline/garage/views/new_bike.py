"""A bike in eight answers: the questions of ``strandline bike new``, one a page."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from ridelog.bikes.amounts import is_dont_know
from ridelog.errors import LogbookError, RecordError
from strandline.bike import draft
from strandline.bike.asking import Answers, Question, plain_remedy
from strandline.bike.eight import questions
from strandline.bike.questions import file_name
from strandline.bike.short_interview import enough_for, text_of, unusual_in, write_bike
from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import Garage, garage_of
from strandline.garage.server.pages import html
from strandline.ride.parse import not_too_long
from strandline.shared.storage import bikes_folder
from suspension.errors import SuspensionError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/bikes/new", ask_name),
        Route("/bikes/new", taking_form(take_name), methods=["POST"]),
        Route("/bikes/new/{begun}", ask_question),
        Route("/bikes/new/{begun}", taking_form(take_answer), methods=["POST"]),
    ]


def ask_name(request: Request) -> Response:
    """Ask for the bike's name."""
    return html(request, "new_bike_name.html", problem="", name="")


def take_name(request: Request, form: Form) -> Response:
    """Keep the name, and go on to the first question."""
    from starlette.responses import RedirectResponse

    garage, name = garage_of(request), " ".join(form.text("name").split())
    try:
        if not name:
            raise RecordError("The bike needs a name.", "Any name that you know it by.")
        target = bikes_folder(garage.settings.logbook) / file_name(not_too_long(name, "The name"))
        if target.exists():
            raise RecordError("A bike of this name is there already.", "Choose another name.")
    except RecordError as error:
        return html(request, "new_bike_name.html", problem=f"{error.message} {error.remedy}", name=name)
    kept = draft.draft_of(target)
    if not draft.load(kept)[0]:
        draft.save(kept, name, {})
    return RedirectResponse(f"/bikes/new/{quote(target.stem)}", 303)


def ask_question(request: Request) -> Response:
    """Ask what is not answered yet, or the question that is named."""
    _, name, answers = _begun(garage_of(request), request.path_params["begun"])
    asked = questions(answers)
    wanted = request.query_params.get("question")
    one = next((one for one in asked if one.key == wanted), None)
    one = one or next((one for one in asked if one.key not in answers), asked[-1])
    return _page(request, name, answers, one)


def take_answer(request: Request, form: Form) -> Response:
    """Check an answer as the command does, keep it, and go on; after the last write the bike's file."""
    from starlette.responses import RedirectResponse

    garage, begun = garage_of(request), request.path_params["begun"]
    kept, name, answers = _begun(garage, begun)
    asked = questions(answers)
    one = next((one for one in asked if one.key == form.text("question")), None)
    if one is None:
        return RedirectResponse(f"/bikes/new/{quote(begun)}", 303)
    typed = "" if form.text("unknown") or is_dont_know(form.text("answer")) else form.text("answer")
    now = {**answers, one.key: typed}
    try:
        if not typed and one.needed:
            raise RecordError("This one is needed.", f"For example: {one.example}")
        unusual = tuple(unusual_in(name, now, one))
    except (LogbookError, SuspensionError) as error:
        problem = f"{error.message} {plain_remedy(error.remedy)}"
        return _page(request, name, now, one, Said(problem))
    if unusual and form.text("seen") != typed:
        return _page(request, name, now, one, Said(unusual=unusual))
    draft.save(kept, name, now)
    if any(one.key not in now for one in questions(now)):
        return RedirectResponse(f"/bikes/new/{quote(begun)}", 303)
    target = bikes_folder(garage.settings.logbook) / file_name(name)
    file = write_bike(target, text_of(name, now))
    return html(
        request, "new_bike_done.html", stem=target.stem, name=name, lines=tuple(enough_for(file.bike))
    )


@dataclass(frozen=True)
class Said:
    """What is said of an answer: why it cannot be taken, or what is unusual about it."""

    problem: str = ""
    unusual: tuple[str, ...] = ()


NOTHING = Said()


def _page(request: Request, name: str, answers: Answers, one: Question, said: Said = NOTHING) -> Response:
    asked = questions(answers)
    at = next(number for number, other in enumerate(asked) if other.key == one.key)
    return html(
        request,
        "new_bike.html",
        name=name,
        question=one,
        number=at + 1,
        count=len(asked),
        before=asked[at - 1].key if at else None,
        answer=answers.get(one.key, one.usual),
        problem=said.problem,
        unusual=said.unusual,
    )


def _begun(garage: Garage, begun: str) -> tuple[Path, str, Answers]:
    """Find the answers that were kept under a name in an address, by comparing it with those that are there.

    Raises
    ------
    RecordError
    """
    folder = bikes_folder(garage.settings.logbook)
    for path in folder.glob(f"*{draft.SUFFIX}") if folder.is_dir() else ():
        if path.stem == begun:
            name, answers = draft.load(path)
            if name:
                return path, name, answers
    raise RecordError("This bike is not begun.", "Begin it in the garage.")
