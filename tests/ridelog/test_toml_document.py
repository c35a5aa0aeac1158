"""What no parser is asked to read of a bike's file: which file and line the message names."""

from __future__ import annotations

import pytest

from ridelog.bikes.toml_document import DEEPEST, LONGEST_LINE, MOST_LINES, toml_document
from ridelog.errors import BikeFileError


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ('a = 1\nb = "' + "x" * LONGEST_LINE + '"\n', 2, "line is too long"),
        ("a = 1\n" + "\n" * MOST_LINES, None, f"{MOST_LINES + 2} lines"),
        ("a = " + "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), None, "nested too deep"),
    ],
)
def test_the_message_names_file_and_line(text: str, line: int | None, said: str) -> None:
    """Lines count from 1, as editors do."""
    with pytest.raises(BikeFileError) as refused:
        toml_document(text, "twin.toml")
    (problem,) = refused.value.problems
    assert problem.line == line and said in problem.message
    assert "twin.toml" in refused.value.message


def test_what_is_as_deep_as_allowed_is_read() -> None:
    """The document itself is the first level."""
    depth = DEEPEST - 1
    assert "a" in toml_document("a = " + "[" * depth + "]" * depth, "twin.toml")
