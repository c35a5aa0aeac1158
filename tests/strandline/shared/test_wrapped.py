"""Lines of 80 columns that break between words, and no number from its unit."""

from __future__ import annotations

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strandline.shared.error_shown import shown_in_lines
from strandline.shared.wrapped import WIDTH, say_lines, wrapped

WORDS = st.lists(st.text("abcdefghij-/", min_size=1, max_size=30), max_size=60).map(" ".join)


@given(WORDS, st.sampled_from(["", "  ", "    "]))
def test_no_word_is_broken_and_no_line_is_too_long(words: str, indent: str) -> None:
    lines = list(wrapped(words, indent))
    assert " ".join(lines).split() == words.split()
    assert all(len(line) <= WIDTH for line in lines)


@pytest.mark.parametrize("filler", range(60, 80))
def test_a_number_keeps_its_unit(filler: int) -> None:
    lines = list(wrapped("x" * filler + " 143.6 ± 0.4 mm and 92 ± 1 % of it"))
    assert any("143.6 ± 0.4 mm" in line for line in lines) and any("92 ± 1 %" in line for line in lines)


def test_a_path_stays_whole() -> None:
    path = "/home/a-rider/" + "x" * 90
    assert path in list(wrapped(f"There is no bike in {path} yet."))[1]


def test_an_errors_lines_fit_with_what_click_writes_before_them() -> None:
    error = click.BadParameter("word " * 40, param_hint="--shaft")
    whole = error.format_message()
    shown_in_lines(error)
    shown_in_lines(error)  # a group within a group
    lines = f"Error: {error.format_message()}".split("\n")
    assert max(map(len, lines)) <= WIDTH and " ".join(lines).split() == f"Error: {whole}".split()


@pytest.mark.parametrize("terminal", [True, False])
def test_long_lines_break_on_a_terminal_alone(
    terminal: bool, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: terminal)
    line = "  " + "word " * 30 + "end"
    say_lines("short", line)
    said = capsys.readouterr().out.rstrip("\n").split("\n")
    assert said[0] == "short" and " ".join(" ".join(said[1:]).split()) == line.strip()
    assert (max(map(len, said)) <= WIDTH) is terminal and all(one.startswith("  ") for one in said[1:])
