"""The one place where the rooms' errors and reasons become messages for people."""

from __future__ import annotations

import re
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from calibration.errors import CalibrationError
from ridelog.errors import AmountError, LogbookError
from suspension.errors import QuantityError, SuspensionError
from vision.errors import VisionError
from vision.names import LengthName

if TYPE_CHECKING:
    from vision.reading import Note, Reading

ROOM_ERRORS = (CalibrationError, VisionError, SuspensionError, LogbookError)
"""What the rooms raise on purpose: each carries `message` and `remedy`."""

RoomError = CalibrationError | VisionError | SuspensionError | LogbookError

PROGRAM_FAULT = "program_fault"
"""Reason code of a photo on which the program itself failed."""

# Of an unforeseen error's own words, so much is repeated; all of it stands in the traceback.
FAULT_LENGTH = 200

# Libraries of the desktop that opencv-python's wheels for Linux link against, as the loader names them.
_SCREEN_LIBRARY = re.compile(
    r"lib(GL|EGL|glib-2|gthread-2|SM|ICE|X11|Xext|Xrender|xcb)[\w.-]*\.so[\w.]*", re.IGNORECASE
)


@dataclass(frozen=True)
class Message:
    """A reason in words for a person.

    Attributes
    ----------
    code : str
        For programs.
    quantity : LengthName or None
        None where it concerns the whole photo.
    what : str
        What is the matter, a sentence, or "".
    advice : str
        What to do differently, a sentence.
    """

    code: str
    quantity: LengthName | None
    what: str
    advice: str

    @property
    def text(self) -> str:
        """Both sentences."""
        return " ".join(part for part in (self.what, self.advice) if part)


def printable(text: str) -> str:
    """Make text safe for a terminal: file names may hold newlines, escape codes and undecodable bytes."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def printable_lines(text: str) -> str:
    """Make text of several lines safe for a terminal."""
    return "\n".join(map(printable, text.split("\n")))


def print_fault() -> None:
    """Print the traceback of the error that is being handled; what it repeats may hold escape codes."""
    click.echo(printable_lines(traceback.format_exc().rstrip("\n")), err=True)


def some(number: int, thing: str) -> str:
    """Write a number of things: "1 ride", "3 rides"."""
    return f"{number} {thing if number == 1 else thing + 's'}"


def sentence(text: str) -> str:
    """Start with a capital, unless a file's name starts it, and end with a stop."""
    text = text.strip()
    if not text:
        return ""
    first = text.split(maxsplit=1)[0]
    if first.isalpha() and first.islower():
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?:" else text + "."


def error_text(error: RoomError) -> str:
    """Give what is wrong and what to do about it, on one line."""
    return printable(f"{sentence(error.message)} {sentence(error.remedy)}")


def wrong_usage(error: RoomError, option: str) -> click.BadParameter:
    """Turn an error about a typed value into click's, which ends with exit status 2."""
    return click.BadParameter(error_text(error), param_hint=option)


class WrongValue(click.ClickException):
    """What was typed cannot be understood: wrong usage, as an unknown option is."""

    exit_code = 2


@contextmanager
def errors_as_messages() -> Iterator[None]:
    """Turn the errors of the rooms, and of writing files, into messages with their exit status.

    It is 2 where something typed cannot be understood, and 1 where something cannot be done. What is wrong in a
    bike's file, the settings or a roster has errors of its own, and is 1.
    """
    from strandline.shared.files import OutputError

    try:
        yield
    except (AmountError, QuantityError) as error:
        raise WrongValue(printable(f"{error.message} {error.remedy}")) from error
    except ROOM_ERRORS as error:
        # a bike's file has several lines of what is wrong, and the remedy below them
        gap = "\n" if "\n" in error.message else " "
        lines = f"{error.message}{gap}{error.remedy}".split("\n")
        raise click.ClickException("\n".join(printable(line) for line in lines)) from error
    except OutputError as error:
        raise click.ClickException(printable(str(error))) from error


def message_for_note(note: Note) -> Message:
    """Word one of a reading's notes for a person."""
    return Message(
        note.reason.value,
        note.quantity,
        printable(sentence(note.detail)),
        note.reason.advice,
    )


def message_for_error(error: RoomError) -> Message:
    """Word why a file could not be read; the error's own remedy is the advice."""
    from vision.reasons import Reason

    return Message(
        Reason.BAD_FILE.value, None, printable(sentence(error.message)), printable(sentence(error.remedy))
    )


def message_for_fault(name: str, error: Exception) -> Message:
    """Word that the program failed on a photo, which is no fault of the photo's."""
    said = " ".join(str(error).split())[:FAULT_LENGTH]
    return Message(
        PROGRAM_FAULT,
        None,
        printable(f"{name}: the program failed on this photo."),
        "This is the program's fault: please report it with the lines above and, if you may, the photo. For the "
        + printable(f"report: {type(error).__name__}, {said}"),
    )


def messages_for(reading: Reading) -> tuple[Message, ...]:
    """Word all notes of a reading, the weightiest first."""
    return tuple(message_for_note(note) for note in reading.notes)


def cannot_load(error: ImportError) -> str | None:
    """Say what to install where OpenCV cannot be loaded for want of a screen library.

    Parameters
    ----------
    error : ImportError

    Returns
    -------
    str or None
        None for any other import error.
    """
    found = _SCREEN_LIBRARY.search(str(error))
    if found is not None:
        return (
            f"OpenCV cannot be loaded: this machine has no {found[0]}, a library for showing windows.\n"
            "  Debian, Ubuntu:  sudo apt-get install libgl1 libglib2.0-0\n"
            "  Fedora:          sudo dnf install mesa-libGL glib2\n"
            "  or, without those libraries:  pip uninstall opencv-python, then "
            "pip install opencv-python-headless"
        )
    if error.name == "cv2":
        return (
            "OpenCV is not installed: install Strandline with pip, which brings it along, or run "
            "pip install opencv-python (opencv-python-headless serves as well)."
        )
    return None
