"""The eight questions about one end: enough for advice; from words a person uses to a bike's file."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from ridelog.bikes.field import Field
from ridelog.bikes.fields import LEG
from ridelog.bikes.leg_parts import ADJUSTER, MARKER
from ridelog.bikes.toml_lines import Path
from ridelog.bikes.values import Count, as_count
from ridelog.errors import AmountError
from ridelog.names import LegName
from strandline.bike.asking import Answers, Question
from strandline.shared.common_words import LAYOUTS, MARKERS, USES
from strandline.shared.suggest import did_you_mean

YES, NO = ("yes", "y", "same", "two", "2", "both"), ("no", "n", "one", "1", "single")

_LEG = {one.key: one for one in LEG}
_ADJUSTER = {one.key: one for one in ADJUSTER}
_MARKER = {one.key: one for one in MARKER}
_NUMBER = re.compile(r"(?<![\w.])[0-9]")


def questions(answers: Answers, only: str | None = None) -> tuple[Question, ...]:
    """Give the eight questions, in words that suit the answers so far.

    Parameters
    ----------
    answers : dict
    only : {"front", "rear"}, optional
        The end, where it is settled already.
    """
    shock = _layout(answers) == "shock"
    kinds = {"front": "Fork, or upside-down fork?", "rear": "What is at the rear?"}
    kind = kinds.get(only or "", "What do you begin with: fork, upside-down fork or shock?")
    use = "" if only else " Before it may stand what the bike is for: touring, sport or off-road."
    to = {"shock": "the bumper's free face", "upside-down-fork": "the axle foot"}.get(
        _layout(answers), "the lower clamp"
    )
    found = (
        Question(
            "kind",
            kind,
            "shock" if only == "rear" else "fork" if only else "touring fork",
            "Fork: the upper tube is the thin, shiny one and the clamps hold it. Upside-down fork: the shiny tube is "
            f"below, at the axle. Shock: at the rear.{use}",
            needed=True,
        ),
        Question(
            "shaft",
            "The bare, shiny shaft's diameter?",
            "14 mm" if shock else "41 mm",
            "Across the shaft with a caliper, twice at right angles. It sets the scale of photos; without it lengths "
            "can only be typed.",
        ),
        Question(
            "extended",
            f"Hanging length: seal to {to}?",
            "80 mm" if shock else "205 mm",
            "Wheel hanging free, the bike held by its frame; measure the shaft that shows. Do not pull at the wheel. "
            "Without it the stroke used is not known.",
        ),
        Question(
            "stroke",
            "Stroke, or the bumper's free length?" if shock else "Stroke, or where the bumper is met?",
            "bumper 20 mm" if shock else "120 mm",
            "Stroke: the manual's travel along the shaft, to the hard stop. "
            + (
                "Or the rubber bumper on the shaft, with a ruler: bumper 20 mm."
                if shock
                else "If you know the stroke at which the bumper is met: bumper 105 mm; or both: 120 mm, bumper 105 mm."
            )
            + " Without it what is left is not known.",
        ),
        Question(
            "adjuster",
            "Preload adjuster, from soft end to hard end?",
            "15 clicks" if shock else "6 turns",
            "Count once, gently, from fully soft to fully hard: turns, clicks, or positions of a ramp. The word alone "
            "if you have not counted; none, if it has no adjuster.",
        ),
        Question(
            "step",
            "How far does one step move the spring's seat?",
            "1 mm",
            "Measure the collar or the adjuster over five steps and divide by five. It says what a step does before "
            "it was tried; Enter if you don't know.",
        ),
        Question(
            "marker",
            "The marker on the shaft?",
            "o-ring 2.5 mm" if shock else "tie 3.6 mm orange",
            "tie (a cable tie) or o-ring; if you know them, its width along the shaft and its colour.",
        ),
        Question(
            "same",
            "One shock, or two alike?" if shock else "Is the right leg the same as the left?",
            "one" if shock else "yes",
            "Two alike are rear-left and rear-right."
            if shock
            else "Most forks are: yes. Of a fork whose legs differ, say no: this is then the left one, as you sit.",
            usual="one" if shock else "yes",
        ),
    )
    none = "adjuster" in answers and not _has_adjuster(answers)
    return tuple(one for one in found if not (none and one.key == "step"))


def leg_of(answers: Answers) -> LegName:
    """Name the leg that was described."""
    if _layout(answers) != "shock":
        return LegName.FRONT_LEFT
    return LegName.REAR_LEFT if _same(answers) else LegName.REAR


def same_of(answers: Answers) -> dict[LegName, LegName]:
    """Give the leg on the other side, where it is the same."""
    if not _same(answers):
        return {}
    leg = leg_of(answers)
    return {LegName(leg.value.replace("left", "right")): leg}


def values_of(answers: Answers) -> dict[Path, Any]:
    """Turn the answers to what a bike's file holds.

    Parameters
    ----------
    answers : dict
        With the kind at least.

    Returns
    -------
    dict of path to value

    Raises
    ------
    AmountError, SuspensionError
        The first answer that cannot be taken.
    """
    found: dict[Path, Any] = {}
    leg: Path = ("leg", leg_of(answers).value)
    for key, read in _READERS.items():
        if answers.get(key):
            found.update(
                {
                    path if path == ("use",) else (*leg, *path): value
                    for path, value in read(answers[key], answers).items()
                }
            )
    return found


def _layout(answers: Answers) -> str:
    try:
        return str(_kind(answers.get("kind", ""), answers)["layout",])
    except AmountError:
        return ""


def _same(answers: Answers) -> bool:
    typed = answers.get("same", "").casefold().rstrip(".")
    usual = "no" if _layout(answers) == "shock" else "yes"
    return (typed or usual) in YES


def _kind(typed: str, _: Answers) -> dict[Path, Any]:
    """Split "touring fork" into use and layout."""
    words = typed.casefold().replace(",", " ").split()
    uses = [USES[word] for word in words if word in USES]
    rest = " ".join(word for word in words if word not in USES)
    layout = LAYOUTS.get(rest)
    if layout is None:
        meant = did_you_mean(rest, LAYOUTS) or "Write fork, upside-down fork or shock."
        raise AmountError(f"“{typed}” is not a kind.", meant)
    return {("layout",): layout, **({("use",): uses[0]} if uses else {})}


def _checked(one: Field, typed: str, path: Path) -> dict[Path, Any]:
    one.read(typed, one.title)
    return {path: typed}


def _plain(key: str) -> Callable[[str, Answers], dict[Path, Any]]:
    return lambda typed, _: _checked(_LEG[key], typed, (key,))


def _stroke(typed: str, answers: Answers) -> dict[Path, Any]:
    found: dict[Path, Any] = {}
    for part in re.split(r"[,;]\s+", typed):
        words = part.strip()
        bumper = re.match(r"bumper(?: (?:at|met at|is met at))?\s*[:=]?\s*", words, re.IGNORECASE)
        if bumper is None:
            words = re.sub(r"^stroke\s*[:=]?\s*", "", words, flags=re.IGNORECASE)
            found.update(_checked(_LEG["stroke"], words, ("stroke",)))
        else:
            key = "bumper_free" if _layout(answers) == "shock" else "bumper_contact"
            found.update(_checked(_LEG[key], words[bumper.end() :], (key,)))
    return found


def _adjuster(typed: str, _: Answers) -> dict[Path, Any]:
    words = typed.casefold().strip()
    if words in ("none", "no", "no adjuster", "not adjustable"):
        return {}
    kinds = {
        "turns": "turns",
        "turn": "turns",
        "clicks": "clicks",
        "click": "clicks",
        "positions": "positions",
    }
    kind = {**kinds, "ramp": "positions", "cam": "positions"}.get(words)
    if kind is not None:
        return {("adjuster", "preload", "kind"): kind}
    count: Count = as_count(typed, "range")
    return {
        ("adjuster", "preload", "kind"): count.kind.value,
        ("adjuster", "preload", "steps"): f"{count.number:g} {count.kind.value}",
    }


def _step(typed: str, answers: Answers) -> dict[Path, Any]:
    found = _checked(_ADJUSTER["step"], typed, ("adjuster", "preload", "step"))
    return found if _has_adjuster(answers) else {}


def _has_adjuster(answers: Answers) -> bool:
    return bool(answers.get("adjuster")) and bool(_adjuster(answers["adjuster"], answers))


def _marker(typed: str, _: Answers) -> dict[Path, Any]:
    """Split "tie 3.6 mm orange" into kind, width and colour."""
    words = " ".join(typed.casefold().replace(",", " ").split())
    kind = next((one for one in sorted(MARKERS, key=len, reverse=True) if words.startswith(one)), None)
    if kind is None:
        raise AmountError(f"“{typed}” does not begin with tie or o-ring.", "Write, for example, tie 3.6 mm.")
    rest = words[len(kind) :].strip()
    found: dict[Path, Any] = {("marker", "kind"): MARKERS[kind]}
    number = _NUMBER.search(rest)
    if number is not None:
        width = re.match(r"[0-9./]+(?: [0-9]+/[0-9]+)?\s*(?:mm|cm|inch|in|\")?", rest[number.start() :])
        text = "" if width is None else width[0].strip()
        found.update(_checked(_MARKER["width"], text, ("marker", "width")))
        rest = f"{rest[: number.start()]} {rest[number.start() + len(text) :]}".strip()
    rest = " ".join(rest.split())
    return {**found, **({("marker", "color"): rest} if rest else {})}


def _other_side(typed: str, _: Answers) -> dict[Path, Any]:
    if typed.casefold().rstrip(".") not in (*YES, *NO):
        raise AmountError(f"“{typed}” is neither yes nor no.", "Write yes or no; of a shock, one or two.")
    return {}


_READERS: dict[str, Callable[[str, Answers], dict[Path, Any]]] = {
    "kind": _kind,
    "shaft": _plain("shaft"),
    "extended": _plain("extended"),
    "stroke": _stroke,
    "adjuster": _adjuster,
    "step": _step,
    "marker": _marker,
    "same": _other_side,
}
