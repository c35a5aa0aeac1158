"""Errors that stop a whole run; what is wrong with one photo goes to the list of exceptions instead."""

from __future__ import annotations


class DayError(Exception):
    """Error that stops a run, with what to do about it.

    Attributes
    ----------
    message, remedy : str
    """

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message, remedy)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}"
