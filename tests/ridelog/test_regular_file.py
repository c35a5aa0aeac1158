"""A link that is exchanged between the look at it and its opening leads nowhere else."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ridelog.regular_file import read_regular


@pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="this system opens links whatever is asked")
@pytest.mark.parametrize("was_a_link", [False, True])
def test_a_link_that_takes_the_place_of_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, was_a_link: bool
) -> None:
    inside, outside = tmp_path / "day", tmp_path / "secret.toml"
    inside.mkdir()
    outside.write_text("secret")
    good, named = inside / "good.toml", inside / "bike.toml"
    good.write_text("good")
    if was_a_link:
        named.symlink_to(good)
    else:
        named.write_text("good")
    assert read_regular(named, 100, inside=inside) == b"good"
    opened = os.open

    def late(path: Path, *rest: int) -> int:
        named.unlink()
        named.symlink_to(outside)
        return opened(path, *rest)

    monkeypatch.setattr(os, "open", late)
    try:
        found = read_regular(named, 100, inside=inside)
    except OSError:
        found = b""
    assert found in (b"", b"good")
