"""Base error of `calibration`."""

from __future__ import annotations


class CalibrationError(Exception):
    """Something about the photo, the camera or the card that stops a reading.

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
        """Pickle all attributes, whatever arguments a subclass takes; unpickling must not fail in a process pool."""
        return type(self).__new__, (type(self), self.message), self.__dict__
