"""The rooms' errors come whole out of a process pool: one that cannot be unpickled breaks it.

Oracle: the standard library's own pool (concurrent.futures), with a fresh interpreter for each worker.
"""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor

import click
import pytest

from calibration.errors import CalibrationError
from calibration.find_card import CardError
from calibration.photo import PhotoError
from calibration.sheet import SheetError
from ridelog.errors import RecordError
from strandline.read.hand_marks import MarksError
from strandline.shared.messages import ROOM_ERRORS, errors_as_messages
from suspension.errors import QuantityError, StrokeError, SuspensionError
from vision.errors import VisionError
from vision.reasons import Reason
from vision.shaft.find import ShaftNotFound

WORDS = ("What\x1b[31m.", "Do.")
ERRORS = (
    *(kind(*WORDS) for kind in (CalibrationError, PhotoError, SheetError, VisionError, MarksError)),
    *(kind(*WORDS) for kind in (SuspensionError, QuantityError, StrokeError, RecordError)),
    CardError("small", *WORDS),  # these two are made from something else
    ShaftNotFound(Reason.NO_SHAFT, WORDS[0]),
)


def raise_one(number: int) -> None:
    raise ERRORS[number]


def test_every_error_comes_out_of_a_pool_whole() -> None:
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        for number, sent in enumerate(ERRORS):
            error = pool.submit(raise_one, number).exception(timeout=60)
            assert type(error) is type(sent) and isinstance(error, ROOM_ERRORS)
            assert str(error) == WORDS[0]
            assert vars(error) == vars(sent)


@pytest.mark.parametrize("error", ERRORS, ids=lambda error: type(error).__name__)
def test_every_error_becomes_a_message(error: SuspensionError) -> None:
    with pytest.raises(click.ClickException) as found, errors_as_messages():
        raise error
    assert found.value.message == rf"What\x1b[31m. {error.remedy}"
    assert found.value.exit_code == (2 if isinstance(error, QuantityError) else 1)
