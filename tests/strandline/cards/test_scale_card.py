"""``strandline card``: writes a sheet, and never over something that is there."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner, Result

from strandline.cards.scale_card import command


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def pages(path: Path) -> int:
    document = pypdfium2.PdfDocument(path)
    count = len(document)
    document.close()
    return count


def test_draws_two_cards_a_sheet(tmp_path: Path) -> None:
    target = tmp_path / "cards.pdf"
    result = run("--numbers", "0-4", "--paper", "LETTER", "-o", target)
    assert result.exit_code == 0, result.output
    assert pages(target) == 3
    assert "3 sheets of US letter" in result.output
    assert list(tmp_path.iterdir()) == [target]


def test_leaves_an_existing_file_alone(tmp_path: Path) -> None:
    target = tmp_path / "card.pdf"
    target.write_bytes(b"mine")
    result = run("-o", target)
    assert result.exit_code == 1
    assert str(target) in result.output
    assert "--force" in result.output
    assert target.read_bytes() == b"mine"
    assert run("-o", target, "--force").exit_code == 0
    assert pages(target) == 1
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("numbers", ["47", "a", "5-1"])
def test_wrong_numbers_are_wrong_usage(tmp_path: Path, numbers: str) -> None:
    result = run("--numbers", numbers, "-o", tmp_path / "card.pdf")
    assert result.exit_code == 2
    assert "--numbers" in result.output
    assert not list(tmp_path.iterdir())


def test_folder_that_does_not_exist(tmp_path: Path) -> None:
    result = run("-o", tmp_path / "none" / "card.pdf")
    assert result.exit_code == 1
    assert "none" in result.output
    assert "Traceback" not in result.output


def test_folder_in_place_of_a_file(tmp_path: Path) -> None:
    result = run("-o", tmp_path)
    assert result.exit_code == 1
    assert "folder" in result.output


def test_disk_full_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    target = tmp_path / "card.pdf"
    target.write_bytes(b"mine")
    result = run("-o", target, "--force")
    assert result.exit_code == 1
    assert "No space left" in result.output
    assert target.read_bytes() == b"mine"
    assert list(tmp_path.iterdir()) == [target]


def test_drive_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    target = tmp_path / "card.pdf"
    assert run("-o", target).exit_code == 0
    assert pages(target) == 1
    assert list(tmp_path.iterdir()) == [target]


def test_help_has_an_example() -> None:
    assert "strandline card --numbers 0-5" in run("--help").output
