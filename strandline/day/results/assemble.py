"""From what is kept of each photo to what the day came to. Nothing is read here, and nothing is guessed."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ridelog.names import LegName
from strandline.day.identify.by_diameter import decide_by_diameter
from strandline.day.identify.identity import Identity, Phase, Unclear, identify_leg
from strandline.day.identify.roster import Entry, Roster, RosterLeg
from strandline.day.identify.sighting import Sighting
from strandline.day.reading.pass_over_folder import FoundPhoto
from strandline.day.reading.photo_files import shown
from strandline.day.reading.records import hash_of_inputs
from strandline.day.reading.store import ResultsStore
from strandline.day.results.compare import bike_result, find_disagreements, repeated_of
from strandline.day.results.results import DayResults, ExceptionItem, LegReading
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.verdict import judge_used

LENGTHS = ("exposed_mm", "marker_mm", "remaining_mm")
# Photos of a leg without "before" or "after" that lie further apart than this are no repetition of one another:
# there may have been a ride between them [common practice, no source].
NO_RIDE_BETWEEN = dt.timedelta(minutes=10)
# Half of a record, and of no use any more when it is known whose leg it is.
_PASSING = frozenset(("assumed", "camera", "scale"))

Key = tuple[tuple[str, str], LegName, Phase]


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
    exceptions: list[ExceptionItem] = []
    groups: dict[Key, list[LegReading]] = defaultdict(list)
    entries: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in roster.entries:
        entries[entry.entrant].append(entry)
    for copies in _by_content(photos):
        found, more = _counted(copies, folder, roster, store)
        exceptions += more
        if found is None:
            continue
        key, reading = found
        groups[key].append(reading)
        exceptions += _contradiction(key, reading)
    repeated = repeated_of([group for key, group in groups.items() if _is_repetition(key, group)])
    legs: dict[tuple[str, str], dict[tuple[LegName, Phase], tuple[LegReading, ...]]] = defaultdict(dict)
    for key, group in groups.items():
        clash = _disagreement(key, group)
        if clash:
            exceptions += clash
        else:
            who, leg, phase = key
            legs[who][leg, phase] = tuple(sorted(group, key=_worth))
    by_label = Counter(one.label for one in exceptions)
    bikes = tuple(
        bike_result(lines, legs[entrant], by_label[lines[0].label]) for entrant, lines in entries.items()
    )
    exceptions.sort(key=lambda one: (one.file, one.code))
    return DayResults(folder.resolve().name, len(photos), tuple(exceptions), bikes, repeated)


def _by_content(photos: Sequence[FoundPhoto]) -> list[list[FoundPhoto]]:
    """Photos of one content together; a file that cannot be read is alone."""
    found: dict[object, list[FoundPhoto]] = defaultdict(list)
    for photo in photos:
        found[photo.sha256 or photo.path].append(photo)
    return list(found.values())


def _counted(
    copies: list[FoundPhoto], folder: Path, roster: Roster, store: ResultsStore
) -> tuple[tuple[Key, LegReading] | None, list[ExceptionItem]]:
    """What copies of one photo came to: one of them counts, and none where they are said to be different legs."""
    names = [shown(photo.path, folder) for photo in copies]
    told = [
        _one(photo, name, photo.path.relative_to(folder).parts, roster, store)
        for photo, name in zip(copies, names, strict=True)
    ]
    clear = [i for i, one in enumerate(told) if not isinstance(one, ExceptionItem)]
    if len({told[i][0] for i in clear}) > 1:  # type: ignore[index]
        what = f"The same picture, byte for byte, is there as different legs: {', '.join(names)}."
        advice = "Take the wrong ones away."
        return None, [ExceptionItem(name, copies[0].sha256, "double_differs", what, advice) for name in names]
    counts = clear[0] if clear else 0
    exceptions = [
        ExceptionItem(
            name,
            copies[0].sha256,
            "double",
            f"It is the same picture as {names[counts]}, byte for byte, and counts once.",
            "Take one of them away.",
        )
        for i, name in enumerate(names)
        if i != counts
    ]
    one = told[counts]
    return (None, [one, *exceptions]) if isinstance(one, ExceptionItem) else (one, exceptions)


def _one(
    photo: FoundPhoto, name: str, parts: tuple[str, ...], roster: Roster, store: ResultsStore
) -> tuple[Key, LegReading] | ExceptionItem:
    """What one photo came to."""
    if photo.sha256 is None:
        return ExceptionItem(name, None, "unreadable", "The file cannot be read.", "Check its permissions.")
    sighting = store.sighting(photo.sha256)
    lost = store.lost(photo.sha256, roster.sha256)
    if lost is not None:
        advice = "Take the photo again, or try once more with --retry and a higher limit."
        card, when = (None, None) if sighting is None else (sighting.card, sighting.when)
        return ExceptionItem(name, photo.sha256, f"lost_{lost.kind}", lost.what, advice, card=card, when=when)
    if sighting is None:
        return ExceptionItem(
            name, photo.sha256, "not_read_yet", "It has not been read yet.", "Run this once more."
        )
    found = identify_leg(sighting, parts, roster)
    if isinstance(found, Unclear):
        label = None if found.entry is None else found.entry.label
        return ExceptionItem(
            *(name, photo.sha256, found.code, found.what, found.advice, label, sighting.card),
            when=sighting.when,
        )
    return _reading(photo.sha256, name, sighting, found, store)


def _reading(
    sha256: str, name: str, sighting: Sighting, who: Identity, store: ResultsStore
) -> tuple[Key, LegReading] | ExceptionItem:
    legs = tuple(leg for leg in who.entry.legs if leg.name in who.legs)
    rows = store.readings(sha256)
    records: dict[LegName, dict[str, Any]] = {}
    hashes: dict[LegName, str] = {}
    for leg in legs:
        assert leg.inputs is not None
        hashes[leg.name] = hash_of_inputs(leg.inputs)
        row = rows.get(hashes[leg.name])
        if row is not None:
            records[leg.name] = row.values

    def trouble(code: str, what: str, advice: str, leg: LegName | None = None) -> ExceptionItem:
        return ExceptionItem(
            *(name, sha256, code, what, advice, who.entry.label, sighting.card),
            leg=leg,
            phase=who.phase,
            when=sighting.when,
        )

    if len(records) < len(legs):
        return trouble("not_read_yet", "It has not been read yet.", "Run this once more.")
    by = who.by
    if len(legs) == 1:
        leg = legs[0]
    else:
        decided = decide_by_diameter(legs, records)
        if decided is None:
            could = ", ".join(one.name.value for one in legs)
            told = [
                reason
                for record in records.values()
                if record["status"] == "refused"
                for reason in record["reasons"]
            ]
            refused = all(record["status"] == "refused" for record in records.values())
            what = f"Which leg it shows is not clear: it could be {could}, and the shaft's diameter does not decide."
            if refused and told:
                what += f" Besides, it could not be read. {told[0]['what']}"
            return trouble(
                "which_leg",
                what,
                "Clip the leg's tag to the card, or put “front”, “rear”, “left”, “right” into the photo's name.",
            )
        leg, by = next(one for one in legs if one.name is decided), (*by, "shaft's diameter")
    record = records[leg.name]
    if record["status"] == "refused":
        reason = record["reasons"][0] if record["reasons"] else {"code": "refused", "what": "", "advice": ""}
        return trouble(reason["code"], reason["what"], reason["advice"], leg.name)
    return (who.entry.entrant, leg.name, who.phase), _leg_reading(
        name, sha256, hashes[leg.name], sighting, record, leg, by
    )


def _leg_reading(
    name: str,
    sha256: str,
    options_hash: str,
    sighting: Sighting,
    record: dict[str, Any],
    leg: RosterLeg,
    by: tuple[str, ...],
) -> LegReading:
    stroke = record.get("stroke") or {}
    used, stop = _estimate(stroke.get("used_mm")), _estimate(stroke.get("hard_stop_mm"))
    stop_mm = None if stop is None else stop.value
    kept = {name: value for name, value in record.items() if name not in _PASSING}
    return LegReading(
        *(name, sha256, options_hash, sighting.when),
        lengths={
            q: Quantity.from_u95(found["value"], found["u95"]) for q in LENGTHS if (found := record.get(q))
        },
        line=json.dumps(kept, ensure_ascii=False),
        used=used,
        percent=_estimate(stroke.get("used_percent")),
        reserve_bumper=_estimate(stroke.get("reserve_bumper_mm")),
        reserve_hard=_estimate(stroke.get("reserve_hard_mm")),
        verdict=judge_used(used, leg.bumper_met_mm, stop_mm),
        reference_mm=stop_mm if leg.bumper_met_mm is None else leg.bumper_met_mm,
        hard_stop_mm=stop_mm,
        by=by,
    )


def _estimate(found: dict[str, Any] | None) -> Quantity | None:
    if found is None or found["value"] is None or found["u95"] is None:
        return None
    return Quantity.from_u95(found["value"], found["u95"], Bound(found["bound"]))


def _contradiction(key: Key, reading: LegReading) -> list[ExceptionItem]:
    """Lengths were read, but they contradict what the bike's file says."""
    stroke = reading.record.get("stroke") or {}
    if stroke.get("status") != "refused":
        return []
    return [
        ExceptionItem(
            *(reading.file, reading.sha256, "stroke_contradiction", stroke["why"], ""),
            key[0][0],
            reading.record.get("card"),
            *key[1:],
            reading.when,
        )
    ]


def _disagreement(key: Key, group: list[LegReading]) -> list[ExceptionItem]:
    """Photos of one leg at one time that differ by more than their doubts allow: none of them counts."""
    clash = {}
    for name in LENGTHS:
        known = [(one.file, length) for one in group if (length := one.length(name)) is not None]
        for i, j in find_disagreements([length for _, length in known]).items():
            a, b = (known[place][1].value for place in sorted((i, j)))
            clash[known[i][0]] = (
                f"{key[1].value} was photographed {len(group)} times {key[2] or 'at no stated phase'}, and the "
                f"readings differ: {name.removesuffix('_mm')} {a:.1f} and {b:.1f} mm."
            )
    if not clash:
        return []
    what = next(iter(clash.values()))
    advice = "Take away what was mistaken; tell before from after by tag or name."
    return [
        ExceptionItem(
            *(one.file, one.sha256, "readings_differ", clash.get(one.file, what), advice, key[0][0]),
            one.record.get("card"),
            *key[1:],
            one.when,
        )
        for one in group
    ]


def _is_repetition(key: Key, group: list[LegReading]) -> bool:
    """Whether photos of one leg show one and the same state."""
    if len(group) < 2:
        return False
    if key[2] is not Phase.NONE:
        return True
    times = [None if one.when is None else dt.datetime.fromisoformat(one.when) for one in group]
    known = [time for time in times if time is not None]
    return len(known) == len(times) and max(known) - min(known) <= NO_RIDE_BETWEEN


def _worth(reading: LegReading) -> tuple[float, float, str, str]:
    """Sorts readings that agree: the fullest and surest first, then the earliest."""
    doubts = [length.u95 for name in LENGTHS if (length := reading.length(name)) is not None]
    surest = reading.used.u95 if reading.used is not None else min(doubts, default=1e9)
    return -len(doubts), surest, reading.when or "", reading.file
