"""The words that bikes, rides and files share; they stand in people's files and must not change."""

from __future__ import annotations

from ridelog.names import AdjusterKind, Basis, Confidence, CountedFrom, End, Felt, LegName, Use


def test_a_leg_stands_at_its_end() -> None:
    ends = {leg.value: leg.end for leg in LegName}
    assert ends == {
        "front": End.FRONT,
        "front-left": End.FRONT,
        "front-right": End.FRONT,
        "rear": End.REAR,
        "rear-left": End.REAR,
        "rear-right": End.REAR,
    }


def test_words_in_files() -> None:
    assert [*Basis] == ["measured", "manual", "estimated", "default"]
    assert {*CountedFrom} == {"soft", "hard"}
    assert {*AdjusterKind} == {"turns", "clicks", "positions"}
    assert {*Confidence} == {"counted", "in-doubt", "unknown"}
    assert {*Felt} == {"harsh", "bottomed", "wallows", "dives"}
    assert {*Use} == {"street", "sport", "off-road"}
