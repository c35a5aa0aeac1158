"""Errors cross process borders whole."""

from __future__ import annotations

import pickle

import pytest

from ridelog.errors import BikeFileError, FileError, LogbookError, Problem, RecordError


@pytest.mark.parametrize(
    "error",
    [
        LogbookError("What.", "Do."),
        RecordError("What.", "Do."),
        FileError("What.", "Do."),
        BikeFileError("a.toml", (Problem(3, "leg.rear", "What.", "Do."),)),
    ],
)
def test_errors_can_be_pickled(error: LogbookError) -> None:
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is type(error)
    assert (back.message, back.remedy, str(back)) == (error.message, error.remedy, str(error))
