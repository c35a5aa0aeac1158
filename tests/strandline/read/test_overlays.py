"""Overlays as files: names that do not clash, nothing overwritten unasked, whole or not at all."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from strandline.shared.files import OutputError, overlay_names, write_new
from tests.helpers.made_readings import SHAFT, json_lines, made_in_full, photo, put_in_place, run

FORK = (*SHAFT, "--layout", "fork")


@pytest.fixture(autouse=True)
def _made(monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made_in_full())


def files(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_writes_a_picture_and_says_where(tmp_path: Path) -> None:
    drawn = tmp_path / "new" / "drawn"
    result = run("read", photo(tmp_path / "a.jpg"), *FORK, "--overlay", drawn, "--json")
    assert result.exit_code == 0, result.output
    assert files(drawn) == {"a-reading.jpg"}
    assert json_lines(result)[0]["overlay"] == str(drawn / "a-reading.jpg")
    with Image.open(drawn / "a-reading.jpg") as image:
        image.load()
        assert image.format == "JPEG"


def test_what_should_be_known_of_a_length_stands_under_the_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line more makes the band under the photo higher."""
    heights = []
    for remarks in (
        (),
        ("The marker's seal-side edge is hidden: it is taken to lie the stated width away.",),
    ):
        put_in_place(monkeypatch, replace(made_in_full(), remarks=remarks))
        drawn = tmp_path / str(len(remarks))
        assert run("read", photo(tmp_path / "a.jpg"), *FORK, "--overlay", drawn).exit_code == 0
        with Image.open(drawn / "a-reading.jpg") as image:
            heights.append(image.height / image.width)
    assert heights[1] > heights[0]


def test_strips_exif(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010F] = "a maker"
    exif.get_ifd(0x8825)[1] = "N"  # the GPS block (CIPA DC-008, tag 0x8825)
    Image.new("RGB", (64, 48)).save(tmp_path / "a.jpg", exif=exif)
    assert run("read", tmp_path / "a.jpg", *FORK, "--overlay", tmp_path / "drawn").exit_code == 0
    with Image.open(tmp_path / "drawn" / "a-reading.jpg") as image:
        assert not image.getexif()
        assert not image.info.get("exif") and not image.info.get("comment")


def test_never_overwrites_unasked(tmp_path: Path) -> None:
    drawn = tmp_path / "drawn"
    drawn.mkdir()
    (drawn / "a-reading.jpg").write_bytes(b"mine")
    one, other = photo(tmp_path / "a.jpg"), photo(tmp_path / "b.jpg")
    result = run("read", one, other, *FORK, "--overlay", drawn, "--json")
    assert result.exit_code == 1
    assert "a-reading.jpg" in result.stderr and "--force" in result.stderr
    assert (drawn / "a-reading.jpg").read_bytes() == b"mine"
    first, second = json_lines(result)
    assert first["overlay"] is None and first["status"] == "read"
    assert second["overlay"] == str(drawn / "b-reading.jpg")
    assert run("read", one, *FORK, "--overlay", drawn, "--force").exit_code == 0
    assert (drawn / "a-reading.jpg").read_bytes() != b"mine"
    assert files(drawn) == {"a-reading.jpg", "b-reading.jpg"}


def test_photo_itself_is_left_alone(tmp_path: Path) -> None:
    name = photo(tmp_path / "a.jpg")
    before = name.read_bytes()
    assert run("read", name, *FORK, "--overlay", tmp_path, "--force").exit_code == 0
    assert name.read_bytes() == before
    assert files(tmp_path) == {"a.jpg", "a-reading.jpg"}


def test_photo_that_has_an_overlays_name_is_left_alone(tmp_path: Path) -> None:
    photos = [photo(tmp_path / name) for name in ("a.jpg", "a-reading.jpg")]
    before = photos[1].read_bytes()
    result = run("read", *photos, *FORK, "--overlay", tmp_path, "--force")
    assert result.exit_code == 1 and "one of the photos" in result.stderr
    assert photos[1].read_bytes() == before


def test_equal_names_from_different_folders(tmp_path: Path) -> None:
    photos = [photo(tmp_path / folder / "IMG_1.jpg") for folder in ("left", "right")]
    drawn = tmp_path / "drawn"
    assert run("read", *photos, *FORK, "--overlay", drawn).exit_code == 0
    assert files(drawn) == {"left-IMG_1-reading.jpg", "right-IMG_1-reading.jpg"}


_NAME = st.sampled_from(["a", "A", "b", "a-jpg", "x-a"])


@given(
    st.lists(
        st.builds(
            lambda x, y, stem, end: Path("/photos") / x / y / (stem + end),
            *(_NAME, _NAME, _NAME, st.sampled_from([".jpg", ".heic", ""])),
        ),
        unique=True,
        max_size=8,
    )
)
def test_names_never_clash_whatever_the_file_system(photos: list[Path]) -> None:
    names = overlay_names(photos)
    assert len(names) == len(photos)
    assert len({name.casefold() for name in names}) == len(names)
    assert all(name.endswith("-reading.jpg") and "/" not in name for name in names)


def test_folder_that_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine")
    for place in (tmp_path / "taken", tmp_path / "taken" / "below"):
        result = run("read", photo(tmp_path / "a.jpg"), *FORK, "--overlay", place, "--json")
        assert result.exit_code == 1
        assert "taken" in result.stderr and "Traceback" not in result.stderr
        assert json_lines(result)[0]["status"] == "read"  # the reading is printed all the same
    assert (tmp_path / "taken").read_text() == "mine"


def test_unwritable_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_: object) -> None:  # in place of permissions, which root does not feel
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("strandline.shared.files.tempfile.mkstemp", refuse)
    drawn = tmp_path / "drawn"
    result = run("read", photo(tmp_path / "a.jpg"), *FORK, "--overlay", drawn, "--json")
    assert result.exit_code == 1
    assert "a-reading.jpg cannot be written: Permission denied" in result.stderr
    assert json_lines(result)[0]["status"] == "read" and json_lines(result)[0]["overlay"] is None


@pytest.mark.parametrize("there", [False, True])
def test_full_disk_leaves_nothing_behind(
    there: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int, mode: str) -> None:
        os.close(handle)
        raise OSError(28, "No space left on device")

    target = tmp_path / "a.jpg"
    if there:
        target.write_bytes(b"mine")
    monkeypatch.setattr("strandline.shared.files.os.fdopen", full)
    with pytest.raises(OutputError, match="No space left"):
        write_new(target, b"content", force=there)
    assert files(tmp_path) == ({"a.jpg"} if there else set())


def test_drive_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    write_new(tmp_path / "a.jpg", b"content", force=False)
    assert (tmp_path / "a.jpg").read_bytes() == b"content" and files(tmp_path) == {"a.jpg"}


def test_name_taken_at_the_last_moment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "a.jpg"
    link = Path.hardlink_to

    def late(self: Path, other: Path) -> None:
        target.write_bytes(b"theirs")
        link(self, other)

    monkeypatch.setattr(Path, "hardlink_to", late)
    with pytest.raises(OutputError, match="appeared in the meantime"):
        write_new(target, b"content", force=False)
    assert target.read_bytes() == b"theirs" and files(tmp_path) == {"a.jpg"}
