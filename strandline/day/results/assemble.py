"""From the record of each photo to the results of the day. Nothing is read here, and nothing is guessed."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path

from ridelog.names import LegName
from strandline.day.identify.identity import Phase
from strandline.day.identify.roster import Entry, Roster
from strandline.day.reading.pass_over_folder import FoundPhoto
from strandline.day.reading.store import Kept, ResultsStore
from strandline.day.results.compare import bike_result, find_disagreements, repeated_of
from strandline.day.results.photo import Found, Subject, photo_result
from strandline.day.results.results import DayResults, ExceptionItem, LegReading
from vision.names import LengthName

# Photos of a leg without "before" or "after" that lie further apart than this are no repetition of one another:
# there may have been a ride between them [common practice, no source].
NO_RIDE_BETWEEN = dt.timedelta(minutes=10)


def assemble(folder: Path, roster: Roster, photos: Sequence[FoundPhoto], store: ResultsStore) -> DayResults:
    """Put the day together.

    Parameters
    ----------
    folder : Path
    roster : Roster
    photos : sequence of FoundPhoto
        In the order of their names: of doubles the first counts.
    store : ResultsStore

    Returns
    -------
    DayResults
        The same for the same photos and roster, however often and in whatever order they were read.
    """
    kept = store.kept(roster.sha256)
    exceptions: list[ExceptionItem] = []
    groups: dict[Subject, list[LegReading]] = defaultdict(list)
    for copies in _by_content(photos):
        found, more = _counted(copies, folder, roster, kept)
        exceptions += more
        if found is not None:
            subject, reading = found
            groups[subject].append(reading)
            exceptions += _contradiction(subject, reading)
    repeated = repeated_of([group for subject, group in groups.items() if _is_repetition(subject, group)])
    legs: dict[tuple[str, str], dict[tuple[LegName, Phase], tuple[LegReading, ...]]] = defaultdict(dict)
    for subject, group in groups.items():
        clash = _disagreement(subject, group)
        if clash:
            exceptions += clash
        else:
            legs[subject.entrant][subject.leg, subject.phase] = tuple(sorted(group, key=_preference))
    entries: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in roster.entries:
        entries[entry.entrant].append(entry)
    by_label = Counter(one.label for one in exceptions)
    bikes = tuple(
        bike_result(lines, legs[entrant], by_label[lines[0].label]) for entrant, lines in entries.items()
    )
    exceptions.sort(key=lambda one: (one.file, one.code))
    return DayResults(folder.resolve().name, len(photos), tuple(exceptions), bikes, repeated)


def _by_content(photos: Sequence[FoundPhoto]) -> list[list[FoundPhoto]]:
    """Group photos of one content; a file that cannot be read is alone."""
    found: dict[object, list[FoundPhoto]] = defaultdict(list)
    for photo in photos:
        found[photo.sha256 or photo.path].append(photo)
    return list(found.values())


def _counted(
    copies: list[FoundPhoto], folder: Path, roster: Roster, kept: Kept
) -> tuple[Found | None, list[ExceptionItem]]:
    """Choose the copy of a photo that counts; none does where their names or folders say different legs."""
    results = [photo_result(photo, folder, roster, kept) for photo in copies]
    read = [one for one in results if not isinstance(one, ExceptionItem)]
    names = [one.file if isinstance(one, ExceptionItem) else one[1].file for one in results]
    if len({subject for subject, _ in read}) > 1:
        what = f"The same file, byte for byte, is there for different legs: {', '.join(names)}."
        advice = "Remove the wrong copies."
        return None, [ExceptionItem(name, copies[0].sha256, "double_differs", what, advice) for name in names]
    counts = read[0] if read else results[0]
    place = results.index(counts)
    doubles = [
        ExceptionItem(
            name,
            copies[0].sha256,
            "double",
            f"It is the same file as {names[place]}, byte for byte, and counts once.",
            "Remove one of them.",
        )
        for i, name in enumerate(names)
        if i != place
    ]
    return (None, [counts, *doubles]) if isinstance(counts, ExceptionItem) else (counts, doubles)


def _contradiction(subject: Subject, reading: LegReading) -> list[ExceptionItem]:
    """List a reading whose lengths contradict the bike's file."""
    stroke = reading.record.stroke
    if stroke is None or stroke.refusal is None:
        return []
    return [_of_subject(subject, reading, "stroke_contradiction", stroke.refusal, "")]


def _disagreement(subject: Subject, group: list[LegReading]) -> list[ExceptionItem]:
    """List photos of one leg at one time that differ by more than their uncertainty; none of them counts."""
    clash = {}
    for name in LengthName:
        known = [(one.file, length) for one in group if (length := one.length(name)) is not None]
        for i, j in find_disagreements([length for _, length in known]).items():
            a, b = (known[place][1].value for place in sorted((i, j)))
            phase = f"“{subject.phase}”" if subject.phase else "without “before” or “after”"
            leg = subject.leg.value.replace("-", " ").capitalize()
            clash[known[i][0]] = (
                f"{leg} was photographed {len(group)} times {phase}, and the readings differ: "
                f"{name.value} {a:.1f} mm and {b:.1f} mm."
            )
    if not clash:
        return []
    what = next(iter(clash.values()))
    advice = "Remove the wrong photos; say “before” or “after” by tag or by name."
    return [_of_subject(subject, one, "readings_differ", clash.get(one.file, what), advice) for one in group]


def _of_subject(subject: Subject, reading: LegReading, code: str, what: str, advice: str) -> ExceptionItem:
    return ExceptionItem(
        *(reading.file, reading.sha256, code, what, advice),
        label=subject.label,
        card=reading.record.card,
        leg=subject.leg,
        phase=subject.phase,
        when=reading.when,
    )


def _is_repetition(subject: Subject, group: list[LegReading]) -> bool:
    """Whether photos of one leg show one and the same state."""
    if len(group) < 2:
        return False
    if subject.phase is not Phase.NONE:
        return True
    times = [None if one.when is None else dt.datetime.fromisoformat(one.when) for one in group]
    known = [time for time in times if time is not None]
    return len(known) == len(times) and max(known) - min(known) <= NO_RIDE_BETWEEN


def _preference(reading: LegReading) -> tuple[float, float, str, str]:
    """Sort readings that agree: those with the most lengths first, then the most accurate, then the earliest."""
    u95s = [length.u95 for length in reading.record.lengths.values()]
    u95 = reading.used.u95 if reading.used is not None else min(u95s, default=1e9)
    return -len(u95s), u95, reading.when or "", reading.file
