"""What is said of a ride that was just recorded: the ride, then what to change next, then what to take care of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ridelog.names import End
from ridelog.storage.store import Logbook
from strandline.advise.advice import EndAdvice, advice_for
from strandline.advise.fields import advice_fields
from strandline.advise.said_today import SaidToday
from strandline.advise.text import caution_lines, cautions_shown, short_lines
from strandline.facts.rides import gather
from strandline.read.already import already_read
from strandline.ride.record import RecordedRide
from strandline.ride.text import ride_fields, ride_lines, settings_words
from strandline.shared.messages import ROOM_ERRORS, error_text
from strandline.shared.storage import place
from strandline.shared.wrapped import wrapped
from suspension.quantities.lengths import Units

# A terminal that nobody has enlarged has 24 lines; the last is for the next command.
SCREEN_LINES = 23
# Which end, and what to do there.
LEAST_LINES = 4


def remarks_on(done: RecordedRide) -> list[str]:
    """Say what to know of the record itself."""
    found = []
    numbers = {
        one.provenance.photo_sha256: ride.number
        for ride in done.before
        for one in ride.readings
        if one.provenance.photo_sha256 is not None
    }
    for reading in done.ride.readings:
        number = numbers.get(reading.provenance.photo_sha256 or "")
        if number is not None:
            found.append(
                f"Ride {number} has the same photo, {reading.provenance.photo_name}. If this ride is one too many: "
                f"strandline ride amend {done.ride.number} --withdraw"
            )
    if done.dated_by_photo is False:
        found.append("The photo carries no date: the ride's is today's, or the one that you gave.")
    return found


def advice_after(logbook_path: Path | None, done: RecordedRide) -> tuple[EndAdvice, ...] | str:
    """Advise on the ends of which the ride has a reading; why not, where that cannot be."""
    ends = {one.leg.end for one in done.ride.readings}
    try:
        with Logbook.open(place(logbook_path), create=False) as logbook:
            log = gather(logbook, done.bike)
            return tuple(advice_for(logbook, log, end) for end in End if end in ends)
    except ROOM_ERRORS as error:
        return f"No advice: {error_text(error)}"


def after_fields(done: RecordedRide, advice: tuple[EndAdvice, ...] | str) -> dict[str, Any]:
    """Fields for JSON."""
    return {
        **ride_fields(done.ride, done.bike),
        "cautions": [*done.cautions, *remarks_on(done)],
        "advice": advice if isinstance(advice, str) else [advice_fields(one) for one in advice],
    }


def after_lines(
    done: RecordedRide, advice: tuple[EndAdvice, ...] | str, units: Units, logbook_path: Path | None
) -> Iterator[str]:
    """Lines for a person, one screen where possible."""
    already = already_read()
    whole = ride_lines(done.ride, done.bike, units) if already is None else wrapped(_in_a_sentence(done))
    lines = list(whole)
    ends = () if isinstance(advice, str) else advice
    taken_over = [one.taken_over for end in ends for one in end.rides if one.ride.number == done.ride.number]
    for words in (*filter(None, taken_over), *remarks_on(done)):
        lines += wrapped(words, "  ", "")
    yield from lines
    cautions = cautions_shown(ends)
    today = SaidToday(place(logbook_path), dt.date.today())
    care = list(caution_lines(cautions, [one for one in cautions if today.includes(one)], done.cautions))
    # What read has printed: which leg, and of each photo its name, the answer and the lengths.
    above = 0 if already is None else 1 + 4 * len(already.outcomes)
    room = SCREEN_LINES - len(lines) - len(care) - above - 2
    if isinstance(advice, str):
        yield from wrapped(advice)
    for one in ends:
        yield ""
        yield from short_lines(one, units, max(room // len(ends), LEAST_LINES))
    if care:
        yield ""
        yield from care
    today.note(cautions)


def _in_a_sentence(done: RecordedRide) -> str:
    """Say what was recorded, where the readings stand above it already."""
    ride = done.ride
    where = [ride.bike.name, ride.entry.route or "", "" if ride.load_case is None else ride.load_case.name]
    counts = settings_words(ride)
    words = f"Recorded as ride {ride.number}, {ride.entry.date}: {', '.join(filter(None, where))}"
    return f"{words}; {counts}." if counts else f"{words}."
