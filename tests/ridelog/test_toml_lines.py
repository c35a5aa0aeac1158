"""The line of each key of a TOML text, counted by eye."""

from __future__ import annotations

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from ridelog.bikes.toml_lines import key_lines

TEXT = """\
# a motorcycle

format = 1
name = "x = 1"

[front]
rake = "25 deg"   # manual
table = [
  ["0 mm", 0.8],
]
after = 1

[leg.rear]
note = '''
stroke = "not a key"
'''
stroke = "92 mm"
marker.kind = "tie"
"""


def test_lines_as_an_editor_counts_them() -> None:
    assert key_lines(TEXT) == {
        ("format",): 3,
        ("name",): 4,
        ("front",): 6,
        ("front", "rake"): 7,
        ("front", "table"): 8,
        ("front", "after"): 11,
        ("leg",): 13,
        ("leg", "rear"): 13,
        ("leg", "rear", "note"): 14,
        ("leg", "rear", "stroke"): 17,
        ("leg", "rear", "marker"): 18,
        ("leg", "rear", "marker", "kind"): 18,
    }


def test_windows_line_ends_count_once() -> None:
    assert key_lines(TEXT.replace("\n", "\r\n")) == key_lines(TEXT)


def test_an_empty_text_has_no_keys() -> None:
    assert key_lines("") == key_lines("# nothing\n\n") == {}


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(["", "# note", "[a.b]", '"""', "x = [", "]"]), st.integers(1, 3)),
        max_size=6,
    ),
    st.integers(0, 6),
)
def test_lines_of_keys_in_any_surroundings(noise: list[tuple[str, int]], blank: int) -> None:
    lines: list[str] = []
    wanted: dict[str, int] = {}
    for number, (kind, size) in enumerate(noise):
        if kind == '"""':  # a long text whose lines look like keys
            wanted[f"t{number}"] = len(lines) + 1
            lines += [f't{number} = """', *(f"k{number} = {i}" for i in range(size)), '"""']
        elif kind in ("x = [", "]"):
            wanted[f"x{number}"] = len(lines) + 1
            lines += [f"x{number} = [", *("  1, # one" for _ in range(size)), "]"]
        elif kind != "[a.b]":
            lines += [kind] * size
    lines += [""] * blank
    wanted["last"] = len(lines) + 1
    lines.append("last = 1")
    text = "\n".join(lines) + "\n[table]\n\ninner = 2\n"
    found = key_lines(text)
    assert {key: found[(key,)] for key in wanted} == wanted
    assert found["table",] == len(lines) + 1 and found["table", "inner"] == len(lines) + 3
    assert len(found) == len(wanted) + 2 and tomllib.loads(text)
