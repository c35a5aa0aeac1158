"""What a worker does with a photo that arrived: take place and device out, read it, draw it."""

from __future__ import annotations

import importlib
import io
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from strandline.day.reading.from_outcome import photo_record
from strandline.day.reading.records import PhotoRecord
from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import read_opened
from strandline.shared.files import OutputError, make_folder, write_new
from strandline.shared.messages import message_for_error, message_for_fault, print_fault

if TYPE_CHECKING:
    from calibration.photo import Photo

# Longest side of the plain picture: a phone shows 400 points across, three pixels each; a loupe of three times takes
# as many again only near the shaft, and asks for them there.
PICTURE_SIDE_PX = 1600
PICTURE_QUALITY = 80


class WorkerJob(Protocol):
    """Something that a worker does; it and its answer are sent as pickles."""

    def run(self) -> Any:
        """Do it, in the worker."""
        ...


@dataclass(frozen=True)
class PhotoAnswer:
    """What became of a photo.

    Attributes
    ----------
    sha256 : str
        Of the photo as it is kept; empty where it could not be opened.
    size_px : tuple of two int
        Of the upright photo.
    record : PhotoRecord or None
    problem, advice : str
        Why it could not be opened, and what to do; a sentence each.
    is_to_be_read_again : bool
        The disk is full, or failed: the photo as it came stays, and is read when the garage is started again.
    ending : str
        Of a file's name, by the kind of the photo as it is kept: ".jpg" or ".heic".
    """

    sha256: str = ""
    size_px: tuple[int, int] = (0, 0)
    record: PhotoRecord | None = None
    problem: str = ""
    advice: str = ""
    is_to_be_read_again: bool = False
    ending: str = ".jpg"


def _not_written() -> PhotoAnswer:
    """Answer that the disk took no more; nothing of the photo is lost."""
    advice = "Free some space on the laptop, then end the garage there and start it again."
    return PhotoAnswer(
        problem="The laptop's disk is full, or fails.", advice=advice, is_to_be_read_again=True
    )


@dataclass(frozen=True)
class PhotoJob:
    """One photo to be opened, kept and read.

    Attributes
    ----------
    raw : Path
        The file as it came.
    kept, picture, drawn : Path
        Written: the photo without place and device, a plain picture for the screen, and one with the reading.
    inputs : ReadInputs
    most_pixels, most_scans : int
    """

    raw: Path
    kept: Path
    picture: Path
    drawn: Path
    inputs: ReadInputs
    most_pixels: int
    most_scans: int

    def run(self) -> PhotoAnswer:
        """Do it.

        Raises
        ------
        MemoryError
            It needs more than a worker may have.
        """
        import cv2

        from calibration.errors import CalibrationError
        from calibration.photo import load_photo
        from strandline.shared.without_place import ending_of, without_place

        cv2.setNumThreads(1)  # there is a process for each core
        try:
            # A first look with every limit, on the header alone where it is too large; then the file that is kept.
            content = without_place(self.raw.read_bytes(), self.most_scans, self.most_pixels)
            write_new(self.kept, content, force=True)
            photo = load_photo(self.kept, max_pixels=self.most_pixels)
        except OutputError:
            return _not_written()
        except CalibrationError as error:
            message = message_for_error(error)
            return PhotoAnswer(problem=self._nameless(message.what), advice=message.advice)
        except MemoryError:
            raise
        except Exception as error:  # parsers of many kinds, on files that may be made to break them
            message = message_for_error(_no_photo(error))
            return PhotoAnswer(problem=message.what, advice=message.advice)
        return replace(self._read(photo), ending=ending_of(content))

    def _read(self, photo: Photo) -> PhotoAnswer:
        try:
            write_new(self.picture, _plain_picture(photo), force=True, lasting=False)
            outcome = read_opened("", photo, self.inputs)
            record = photo_record(outcome, self.inputs)
            if not outcome.refused:
                from strandline.read.overlays import overlay_jpeg

                drawn = overlay_jpeg(outcome, photo, self.inputs.units, self.inputs.leg.layout)
                write_new(self.drawn, drawn, force=True, lasting=False)
        except MemoryError:
            raise
        except OutputError:
            return _not_written()
        except Exception as error:  # a fault on one photo is that photo's, not the server's end
            print_fault()
            message = message_for_fault("The photo", error)
            return PhotoAnswer(photo.sha256, photo.size, problem=message.what, advice=message.advice)
        return PhotoAnswer(photo.sha256, photo.size, record)

    def _nameless(self, text: str) -> str:
        """Leave the place of the file out of a sentence: it is no business of a phone's."""
        return text.replace(str(self.kept), "The file").replace(str(self.raw), "The file")


@dataclass(frozen=True)
class KeepJob:
    """One photo of a tech day to be kept in its folder, where others read it.

    Attributes
    ----------
    raw : Path
    kept : Path
        Written, without place and device.
    most_scans, most_pixels : int
    """

    raw: Path
    kept: Path
    most_scans: int
    most_pixels: int

    def run(self) -> PhotoAnswer:
        """Do it."""
        from hashlib import sha256

        from calibration.errors import CalibrationError
        from strandline.shared.without_place import ending_of, without_place

        try:
            content = without_place(self.raw.read_bytes(), self.most_scans, self.most_pixels)
        except CalibrationError as error:
            message = message_for_error(error)
            return PhotoAnswer(problem=message.what, advice=message.advice)
        except MemoryError:
            raise
        except Exception as error:  # parsers of many kinds, on files that may be made to break them
            message = message_for_error(_no_photo(error))
            return PhotoAnswer(problem=message.what, advice=message.advice)
        try:
            make_folder(self.kept.parent)
            write_new(self.kept.with_suffix(ending_of(content)), content, force=True)
        except OutputError:
            return _not_written()
        return PhotoAnswer(sha256(content).hexdigest())


@dataclass(frozen=True)
class Nothing:
    """A job that only sees that the worker has started."""

    def run(self) -> None:
        """Do nothing."""


def work(job: WorkerJob) -> Any:
    """Do a job: what a worker calls."""
    return job.run()


def warm_up() -> None:
    """Load what reading needs, so that the first photo does not pay for it."""
    from strandline.read.apart import warm_up as of_reading

    of_reading()
    # What a reading imports as it goes took 0.5 s of the first photo's 1.3 [measured].
    for name in (
        "strandline.shared.without_place",
        "calibration.focal",
        "vision.turned",
    ):
        importlib.import_module(name)
    from vision.networks.run import load_networks

    load_networks()


def _no_photo(error: Exception) -> Any:
    from calibration.photo import PhotoError

    return PhotoError("The file is no photo that can be opened.", "Take the photo with the phone's camera.")


def _plain_picture(photo: Photo) -> bytes:
    """Make a JPEG of the upright photo for a screen, of pixels alone."""
    from PIL import Image

    from calibration.pixels import shrunk
    from calibration.upright import turned

    lying = shrunk(photo.stored, max(1, max(photo.size) // PICTURE_SIDE_PX))
    image = Image.fromarray(turned(lying, photo.quarter_turns))
    image.thumbnail((PICTURE_SIDE_PX, PICTURE_SIDE_PX), Image.Resampling.BILINEAR)
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=PICTURE_QUALITY)
    return buffer.getvalue()
