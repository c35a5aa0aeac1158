"""A photo's record in the day's file: known numbers in and out, and nothing lost on the way.

The JSON's names are those that `strandline read --json` documents; the numbers are made up.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strandline.day.reading.from_outcome import hash_of_inputs, photo_record
from strandline.day.reading.records import (
    PhotoRecord,
    ReasonRecord,
    ScaleRecord,
    StrokeName,
    StrokeRecord,
)
from strandline.read.json_line import json_line
from strandline.read.one_photo import Outcome, read_one
from strandline.read.parse import ReadOptions, parse_options
from strandline.read.stroke import used_stroke
from strandline.shared.messages import Message
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind
from vision.names import LengthName
from vision.reading import CameraPose, Length, Reading, ScaleCheck, Status

SAMPLES = Path(__file__).parents[3] / "sample-images"
FORK = ReadOptions(
    "41.0 mm",
    "fork",
    marker="o-ring",
    marker_width="4.8 mm",
    extended="205 mm",
    stroke="120 mm",
    state="on-wheels",
)
FIELDS = tuple(name.field for name in LengthName)
# Of d + gn = E: rows and columns of (E, d, gn).
COVARIANCE = np.array([[0.08, 0.05, 0.03], [0.05, 0.06, -0.01], [0.03, -0.01, 0.04]])


def outcome(options: ReadOptions = FORK) -> Outcome:
    """Make a fork read at E = 170, d = 60, gn = 110 mm: u = E0 - gn = 205 - 110 = 95 mm of S = 120 mm."""
    reading = Reading(
        Status.READ,
        exposed=Length(170.0, 0.6),
        marker=Length(60.0, 0.5),
        remaining=Length(110.0, 0.4),
        marker_at_stop=False,
        marker_band_mm=Length(4.7, 0.3),
        card=3,
        scale=ScaleCheck(5.0, 5.1, 8.0, 0.7),
        pose=CameraPose(2000.0, "exif", np.eye(3), np.zeros(3)),
        covariance_mm2=COVARIANCE,
        remarks=("Read in poor light.",),
    )
    used = used_stroke(reading, parse_options(options))
    return Outcome(
        "a.jpg",
        reading,
        (Message("some", LengthName.MARKER, "It is so.", "Do it."),),
        used=used,
        cautions=("Take care.",),
    )


def test_known_numbers_in_and_out() -> None:
    record = photo_record(outcome(), parse_options(FORK))
    assert record.lengths == {
        LengthName.EXPOSED: Quantity(170.0, 0.3),
        LengthName.MARKER: Quantity(60.0, 0.25),
        LengthName.REMAINING: Quantity(110.0, 0.2),
    }
    fields = json.loads(record.to_json())
    assert fields["exposed_mm"] == {"value": 170.0, "u95": 0.6}
    assert fields["remaining_mm"] == {"value": 110.0, "u95": 0.4}
    assert fields["covariance_mm2"] == COVARIANCE.tolist()
    assert fields["scale"] == {
        "card_px_per_mm": 5.0,
        "diameter_px_per_mm": 5.1,
        "depth_gap_mm": 8.0,
        "depth_gap_sd_mm": 0.7,
        "focal_px": 2000.0,
    }
    assert fields["marker"]["kind"] == "o-ring" and fields["marker"]["width_mm"]["value"] == 4.8
    assert fields["state"] == "on-wheels" and fields["card"] == 3 and fields["marker_at_stop"] is False
    used = record.stroke_value(StrokeName.USED)
    assert used is not None and used.value == 95.0
    assert fields["stroke"]["used_mm"]["value"] == 95.0 and fields["stroke"]["status"] == "answered"
    # The stroke's arithmetic takes exactly these: E, d, gn and what their errors share.
    lengths = record.shaft_lengths
    assert (lengths.exposed_mm, lengths.marker_mm, lengths.remaining_mm) == tuple(record.lengths.values())
    assert lengths.covariance_of(1, 2) == pytest.approx(-0.01 / (0.06 * 0.04) ** 0.5 * 0.25 * 0.2, rel=1e-12)


def test_the_width_in_the_photo_stands_in_for_one_that_was_not_stated() -> None:
    options = ReadOptions("41.0 mm", "fork", extended="205 mm", stroke="120 mm")
    record = photo_record(outcome(options), parse_options(options))
    assert record.marker == Marker(MarkerKind.UNKNOWN, Quantity(4.7, 0.15), LockFacing.UNKNOWN)


def test_names_and_values_are_those_of_read() -> None:
    """Where both have a field, it says the same; so a table made of either is the same."""
    made = outcome()
    line = json.loads(json_line(made))
    fields = photo_record(made, parse_options(FORK)).to_fields()
    same = {"status", "reasons", "stroke", "cautions", "remarks", "card", "marker_at_stop", "covariance_mm2"}
    for name in {*FIELDS, *same}:
        assert fields[name] == line[name], name


def test_a_sample_photo_keeps_what_it_reads_as() -> None:
    options = ReadOptions("13.97 mm", "shock", print_scale="1", extended="90 mm", state="rider-aboard")
    inputs = parse_options(options)
    made, _ = read_one(str(SAMPLES / "coil-over-black-o-ring.jpg"), inputs)
    line = json.loads(json_line(made))
    record = photo_record(made, inputs)
    assert line["status"] != "refused" and not record.is_refused
    kept = PhotoRecord.from_json(record.to_json())
    for name in (*FIELDS, "stroke", "reasons", "cautions", "remarks"):
        assert kept.to_fields()[name] == line[name], name


def test_a_refused_stroke_keeps_its_reason() -> None:
    record = PhotoRecord("read", stroke=StrokeRecord(refusal="They do not fit."))
    assert json.loads(record.to_json())["stroke"] == {"status": "refused", "why": "They do not fit."}
    assert PhotoRecord.from_json(record.to_json()) == record


def test_equal_inputs_have_one_hash_and_others_another() -> None:
    assert hash_of_inputs(parse_options(FORK)) == hash_of_inputs(parse_options(ReadOptions(**vars(FORK))))
    assert hash_of_inputs(parse_options(FORK)) != hash_of_inputs(
        parse_options(ReadOptions("41.0 mm", "fork"))
    )


# As the file keeps numbers: to a millionth.
NUMBERS = st.integers(-(10**9), 10**9).map(lambda n: n / 10**6)
POSITIVE = st.integers(0, 10**9).map(lambda n: n / 10**6)
TEXTS = st.text(max_size=20)
SENTENCES = st.lists(TEXTS, max_size=3).map(tuple)
LENGTHS = st.builds(Quantity.from_u95, NUMBERS, POSITIVE)
VALUES = st.builds(Quantity.from_u95, NUMBERS, POSITIVE, st.sampled_from(Bound))
CELLS = st.none() | NUMBERS
STROKES = st.builds(StrokeRecord, refusal=TEXTS) | st.builds(
    StrokeRecord,
    bound=st.sampled_from(Bound),
    values=st.dictionaries(st.sampled_from(StrokeName), VALUES),
    withheld=SENTENCES,
    remarks=SENTENCES,
)
RECORDS = st.builds(
    PhotoRecord,
    status=st.sampled_from(["read", "partial", "refused"]),
    lengths=st.dictionaries(st.sampled_from(LengthName), LENGTHS),
    covariance_mm2=st.none() | st.tuples(*[st.tuples(CELLS, CELLS, CELLS)] * 3),
    marker_at_stop=st.none() | st.booleans(),
    card=st.none() | st.integers(0, 46),
    reasons=st.lists(
        st.builds(ReasonRecord, TEXTS, st.none() | st.sampled_from(LengthName), TEXTS, TEXTS), max_size=2
    ).map(tuple),
    scale=st.none() | st.builds(ScaleRecord, CELLS, CELLS, CELLS, CELLS, CELLS),
    marker=st.builds(Marker, st.sampled_from(MarkerKind), st.none() | LENGTHS, st.sampled_from(LockFacing)),
    state=st.sampled_from(State),
    stroke=st.none() | STROKES,
    cautions=SENTENCES,
    remarks=SENTENCES,
)


@given(RECORDS)
def test_nothing_is_lost_in_the_file(record: PhotoRecord) -> None:
    text = record.to_json()
    assert text.isascii() and "\n" not in text
    assert PhotoRecord.from_json(text) == record
    assert PhotoRecord.from_json(text).to_json() == text
