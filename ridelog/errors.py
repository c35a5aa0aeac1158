"""The base error of this room."""

from __future__ import annotations

from dataclasses import dataclass


class LogbookError(Exception):
    """A bike or a logbook that cannot be used as it is, or a record that cannot be taken.

    Parameters
    ----------
    message : str
        What is wrong, in one sentence, naming the file where there is one.
    remedy : str
        What the person should do about it, in one sentence.
    """

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle both sentences: an error that cannot be unpickled leaves a process pool waiting for ever."""
        return type(self), (self.message, self.remedy)


class AmountError(LogbookError):
    """A number with a unit, a count or a word that cannot be taken as it is written."""


class RecordError(LogbookError):
    """A record that contradicts itself or names what the logbook does not hold."""


class FileError(LogbookError):
    """A logbook file that cannot be opened, is of another kind, or is damaged."""


class TransferError(LogbookError):
    """An export, import or backup that cannot be done."""


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong, or unusual, in a bike's file.

    Attributes
    ----------
    line : int or None
        Counted from 1; None where something is missing as a whole.
    key : str
        Dotted, as in ``leg.rear.stroke``; "" for the file itself.
    message, remedy : str
        A sentence each: what is wrong, and what would be right.
    """

    line: int | None
    key: str
    message: str
    remedy: str

    @property
    def text(self) -> str:
        """Both sentences, led by the line."""
        where = "" if self.line is None else f"line {self.line}: "
        return f"{where}{self.message} {self.remedy}"


class BikeFileError(LogbookError):
    """A bike's file in which something is wrong: every problem is reported, not only the first.

    Attributes
    ----------
    problems : tuple of Problem
        In the order of their lines.
    """

    def __init__(self, name: str, problems: tuple[Problem, ...]) -> None:
        count = "one thing is" if len(problems) == 1 else f"{len(problems)} things are"
        super().__init__(
            f"In the bike's file {name}, {count} not right:\n"
            + "\n".join(f"  {problem.text}" for problem in problems),
            "Fix the lines named and try again.",
        )
        self.name = name
        self.problems = problems

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle what it was made from."""
        return type(self), (self.name, self.problems)
