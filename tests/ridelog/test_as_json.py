"""A logbook as one JSON document: what stands in it, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ridelog.errors import TransferError
from ridelog.transfer.as_json import from_json, read_json, to_json
from ridelog.transfer.document import Document

DOCUMENT = Document(
    2, {"ride": [{"id": "c", "number": 1, "bike_id": None}], "note": [{"x": 0.1, "y": "Ä ±"}]}
)


def test_the_document_as_other_programs_read_it() -> None:
    assert json.loads(to_json(DOCUMENT, "9.9")) == {
        "kind": "strandline logbook",
        "schema_version": 2,
        "program_version": "9.9",
        "tables": {
            "ride": [{"id": "c", "number": 1, "bike_id": None}],
            "note": [{"x": 0.1, "y": "Ä ±"}],
        },
    }
    assert "Ä ±" in to_json(DOCUMENT, "9.9")


def test_out_and_in_again(tmp_path: Path) -> None:
    text = to_json(DOCUMENT, "1")
    assert from_json(text, "x") == DOCUMENT
    (tmp_path / "a.json").write_text(text, encoding="utf-8")
    assert read_json(tmp_path / "a.json") == DOCUMENT
    (tmp_path / "a.json").write_text(text, encoding="utf-8-sig")  # as editors on Windows save it
    assert read_json(tmp_path / "a.json") == DOCUMENT


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('{\n"kind": }', "x is not JSON: see its line 2"),
        ("[" * 100_000, "x is not JSON"),
        ('{"kind": NaN}', "x is not JSON as a logbook is written"),
        ("[]", "x is not a logbook in JSON"),
        ('{"kind": "strandline logbook", "schema_version": "2"}', "x is not a logbook in JSON"),
        ('{"kind": "strandline logbook", "schema_version": 2}', "holds no tables of rows"),
        ('{"kind": "strandline logbook", "schema_version": 2, "tables": {"a": [1]}}', "no tables of rows"),
        (
            '{"kind": "strandline logbook", "schema_version": 2, "tables": {"a": [{"x": true}]}}',
            "no tables of rows",
        ),
        (
            '{"kind": "strandline logbook", "schema_version": 2, "tables": {"a": [{"x": 1e999}]}}',
            "no tables of rows",
        ),
    ],
)
def test_refusals(text: str, message: str) -> None:
    with pytest.raises(TransferError, match=message) as caught:
        from_json(text, "x")
    assert "Expecting" not in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(TransferError, match="cannot be read"):
        read_json(tmp_path / "none.json")
    (tmp_path / "a.json").write_bytes(b"\xff")
    with pytest.raises(TransferError, match="is not UTF-8 text"):
        read_json(tmp_path / "a.json")


def test_a_number_that_json_does_not_have_is_not_written() -> None:
    """RFC 8259, section 6: NaN and the infinities are not permitted."""
    with pytest.raises(ValueError, match="not JSON compliant"):
        to_json(Document(2, {"note": [{"x": float("nan")}]}), "1")


def test_a_line_a_value_so_that_two_exports_compare() -> None:
    lines = to_json(DOCUMENT, "1").splitlines()
    assert lines[:2] == ["{", ' "kind": "strandline logbook",'] and '    "number": 1,' in lines


def test_a_refused_file_is_named(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text("[]")
    with pytest.raises(TransferError, match=r"a\.json is not a logbook in JSON") as caught:
        read_json(tmp_path / "a.json")
    assert str(tmp_path) in str(caught.value)
