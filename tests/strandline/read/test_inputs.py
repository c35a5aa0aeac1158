"""A new user's mistakes: each gets a message that names the option or the file, and harms no other photo."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path

import pytest

from strandline.read.hand_marks import MarksError, parse_edges, parse_hand_error, parse_rims
from strandline.read.inputs import hand_marks
from tests.helpers.made_readings import SHAFT, json_lines, made, photo, put_in_place, run
from vision.reading import Reading

FORK = (*SHAFT, "--layout", "fork")
SHOCK = (*SHAFT, "--layout", "shock")


@pytest.fixture(autouse=True)
def _made(monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made(175.0, 62.0, 113.0))


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--shaft", "41", "--layout", "fork"), "--shaft"),
        (("--shaft", "41kg", "--layout", "fork"), "--shaft"),
        (("--shaft", "410mm", "--layout", "fork"), "--shaft"),
        (("--layout", "fork"), "--shaft"),
        (("--shaft", "41mm"), "--layout"),
        (("--shaft", "41mm", "--layout", "forks"), "upside-down-fork"),
        ((*FORK, "--print-scale", "98"), "--print-scale"),
        ((*FORK, "--marker-width", "3.6"), "--marker-width"),
        ((*FORK, "--marker-width", "36mm"), "--marker-width"),
        ((*FORK, "--extended", "205"), "--extended"),
        ((*FORK, "--stroke", "0mm"), "--stroke"),
        ((*FORK, "--state", "side-stand"), "on-wheels"),
        ((*FORK, "--units", "cm"), "--units"),
        ((*FORK, "--focal-35mm", "2600"), "--focal-35mm"),
        ((*FORK, "--focal-35mm", "wide"), "--focal-35mm"),
        ((*FORK, "--bumper", "20mm", "--bumper-crushed", "8mm"), "--stroke"),
        ((*SHOCK, "--bumper", "20mm"), "--bumper-crushed"),
        ((*SHOCK, "--bumper-crushed", "8mm"), "--bumper "),
        ((*SHOCK, "--bumper", "200mm", "--bumper-crushed", "8mm"), "--bumper"),
        ((*SHOCK, "--bumper", "8mm", "--bumper-crushed", "20mm"), "longer crushed"),
        ((*FORK, "--tie-lock", "at-seal"), "--marker tie"),
        ((*FORK, "--marker", "o-ring", "--tie-lock", "at-seal"), "--tie-lock"),
        ((*FORK, "--force"), "without -o DIR"),
        ((*FORK, "--rims", "seal=1,2"), "two rims"),
        ((*FORK, "--nonsense"), "--nonsense"),
    ],
)
def test_wrong_usage(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    result = run("read", photo(tmp_path / "a.jpg"), *words, "--json")
    assert result.exit_code == 2, result.output
    assert said in flat(result.stderr)
    assert result.stdout == ""


def test_no_photo_is_wrong_usage() -> None:
    assert run("read", *FORK).exit_code == 2


@pytest.mark.parametrize(
    ("shaft", "mm"), [("41,5mm", 41.5), ("1.614 in", 40.9956), ("1 3/8 in", 34.925), ('1-3/8"', 34.925)]
)
def test_quantities_as_people_write_them(
    shaft: str, mm: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []

    def see(photo: object, focal: object, inputs: object) -> Reading:
        seen.append(inputs.shaft_mm.value)  # type: ignore[attr-defined]
        return made(175.0, 62.0, 113.0)

    put_in_place(monkeypatch, see)
    assert run("read", photo(tmp_path / "a.jpg"), "--shaft", shaft, "--layout", "fork").exit_code == 0
    assert seen == [pytest.approx(mm)]  # an inch is 25.4 mm (NIST SP 811)


def test_bad_files_do_not_stop_the_others(tmp_path: Path) -> None:
    good = photo(tmp_path / "good.jpg")
    bad = {
        "text.jpg": b"no picture",
        "empty.jpg": b"",
        "short.jpg": good.read_bytes()[:300],
        "film.gif": b"GIF89a" + bytes(50),
    }
    for name, content in bad.items():
        (tmp_path / name).write_bytes(content)
    names = [*bad, "missing.jpg", "*.tiff", ""]
    photos = [tmp_path / name for name in names] + [good]
    result = run("read", *photos, *FORK, "--json")
    assert result.exit_code == 1
    lines = json_lines(result)
    assert [line["photo"] for line in lines] == [str(path) for path in photos]
    for path, line in zip(photos[:-1], lines[:-1], strict=True):
        assert line["status"] == "refused" and line["reason"] == "bad_file"
        assert str(path) in line["reasons"][0]["what"]
        assert line["reasons"][0]["advice"]
        assert line["exposed_mm"] is line["marker_mm"] is line["remaining_mm"] is line["card"] is None
    assert "folder" in lines[-2]["reasons"][0]["what"]
    assert "No file matches" in lines[-3]["reasons"][0]["what"]
    assert lines[-1]["status"] == "read"
    table = run("read", *photos, *FORK)
    assert table.exit_code == 1 and "missing.jpg does not exist" in flat(table.stdout)
    assert "175.0 ± 0.2" in table.stdout


def test_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path) -> bytes:  # in place of permissions, which root does not feel
        raise PermissionError(13, "Permission denied")

    name = photo(tmp_path / "a.jpg")
    monkeypatch.setattr("calibration.photo._bytes_of", refuse)
    result = run("read", name, *FORK, "--json")
    assert result.exit_code == 1
    (line,) = json_lines(result)
    assert line["reason"] == "bad_file" and str(name) in line["reasons"][0]["what"]


def test_null_character_in_a_name() -> None:
    result = run("read", "a\0b.jpg", *FORK, "--json")
    assert result.exit_code == 1
    assert json_lines(result)[0]["reason"] == "bad_file"


def test_a_fault_on_one_photo_is_told_as_the_programs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def see(photo: object, focal: object, inputs: object) -> Reading:
        if "poison" in str(photo.path):  # type: ignore[attr-defined]
            raise ZeroDivisionError("float division by zero")
        return made(175.0, 62.0, 113.0)

    put_in_place(monkeypatch, see)
    result = run("read", photo(tmp_path / "poison.jpg"), photo(tmp_path / "b.jpg"), *FORK, "--json")
    assert result.exit_code == 1
    first, second = json_lines(result)
    assert first["status"] == "refused" and first["reason"] == "program_fault"
    assert second["status"] == "read"
    assert "ZeroDivisionError" in result.stderr


def test_a_photo_named_twice_is_read_once(tmp_path: Path) -> None:
    name = photo(tmp_path / "a.jpg")
    names = [name, tmp_path / "." / "a.jpg"]
    with contextlib.suppress(OSError):  # Windows lets few people make links
        (tmp_path / "link.jpg").symlink_to(name)
        names.append(tmp_path / "link.jpg")
    result = run("read", *names, *FORK, "--json")
    assert len(json_lines(result)) == 1
    assert "read only once" in result.stderr


def test_no_exif_goes_on_and_says_so(tmp_path: Path) -> None:
    (line,) = json_lines(run("read", photo(tmp_path / "a.jpg"), *FORK, "--json"))
    assert any("focal length" in words for words in line["assumed"])


def test_unknown_colour_is_said_and_not_used(tmp_path: Path) -> None:
    result = run("read", photo(tmp_path / "a.jpg"), *FORK, "--marker-color", "stealth")
    assert result.exit_code == 0
    assert "“stealth” is not known" in flat(result.stdout)


def test_rims_by_hand() -> None:
    rims = parse_rims("seal=812,433 MARKER=815,902;840.5,904 far=820,1400")
    assert rims.seal == ((812, 433),)
    assert rims.marker == ((815, 902), (840.5, 904))
    assert rims.far == ((820, 1400),)
    assert parse_rims("seal=1,2 far=3,4").marker == ()
    assert rims.outside(1000, 1500) is None
    assert rims.outside(1000, 1400) == (820, 1400)


@pytest.mark.parametrize(
    "text",
    [
        *("", "seal", "seal=1,2", "seal=1,2 seal=3,4", "seal=1,2 axle=3,4", "seal=1,2 far=3"),
        *("seal=1,2 far=3,4,5", "seal=1,2 far=x,y", "seal=1,2 far=nan,3", "seal=1,2 far=-3,3"),
        *(
            "seal=1,2 far=3,4;",
            "seal=1,2 far=inf,4",
            "seal= far=1,2",
            "seal=1,2 far=" + ";".join(["1,2"] * 999),
        ),
    ],
)
def test_rims_that_are_none(text: str) -> None:
    with pytest.raises(MarksError) as caught:
        parse_rims(text)
    assert "--rims" in caught.value.remedy


def test_marks_by_hand_become_arrays() -> None:
    stated = replace(parse_rims("far=3,4;5,6 seal=1,2"), edges=parse_edges("1,2;3,4 5,6;7,8"), sd_px=2.5)
    marks = hand_marks(stated)
    assert marks.marker_px is None and marks.marker_end_px is None
    assert marks.seal_px is not None and marks.seal_px.tolist() == [[1, 2]]
    assert marks.far_px is not None and marks.far_px.tolist() == [[3, 4], [5, 6]]
    assert [line.tolist() for line in marks.edges_px] == [[[1, 2], [3, 4]], [[5, 6], [7, 8]]]
    assert marks.sd_px == 2.5
    assert hand_marks(parse_rims("far=3,4 marker-end=1,2")).marker_end_px is not None


@pytest.mark.parametrize("text", ["", "1,2", "1,2;3,4 5,6;7,8 9,1;2,3", "1,2;3", "seal=1,2;3,4"])
def test_edges_that_are_none(text: str) -> None:
    with pytest.raises(MarksError):
        parse_edges(text)


@pytest.mark.parametrize("text", ["0.1", "21px", "two", "nan", ""])
def test_hand_errors_that_are_none(text: str) -> None:
    with pytest.raises(MarksError):
        parse_hand_error(text)


def test_rims_reach_the_reading(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []

    def see(photo: object, focal: object, inputs: object) -> Reading:
        seen.append(inputs.marks)  # type: ignore[attr-defined]
        return made(175.0, 62.0, 113.0)

    put_in_place(monkeypatch, see)
    name = photo(tmp_path / "a.jpg")
    assert run("read", name, *FORK, "--rims", "seal=1,2 far=3,4;5,6").exit_code == 0
    assert seen[0].far == ((3, 4), (5, 6))
    more = ("--edges", "1,2;3,4 5,6;7,8", "--hand-error", "2px")
    assert run("read", name, *FORK, "--rims", "seal=1,2 far=3,4", *more).exit_code == 0
    assert seen[1].edges == (((1, 2), (3, 4)), ((5, 6), (7, 8))) and seen[1].sd_px == 2
    alone = run("read", name, *FORK, "--edges", "1,2;3,4 5,6;7,8")
    assert alone.exit_code == 2 and "--rims" in flat(alone.stderr)
    beyond = run("read", name, *FORK, "--rims", "seal=1,2 far=3,4", "--edges", "1,2;3,400 5,6;7,8")
    assert beyond.exit_code == 2 and "3,400" in flat(beyond.stderr)
    two = run("read", name, photo(tmp_path / "b.jpg"), *FORK, "--rims", "seal=1,2 far=3,4")
    assert two.exit_code == 2 and "one photo" in flat(two.stderr)
    outside = run("read", name, *FORK, "--rims", "seal=1,2 far=3,400", "--json")
    assert outside.exit_code == 2
    assert "3,400" in outside.stderr and "outside the photo of 64 x 48 px" in flat(outside.stderr)
