"""What a bike's file may hold of the parts of a leg: marker, spring, air and adjusters. See `fields`."""

from __future__ import annotations

from ridelog.bikes import amounts
from ridelog.bikes.field import Field
from ridelog.bikes.values import (
    as_count,
    as_text,
    choice,
    force_table,
    in_dimension,
    length,
    length_in,
    list_of,
    plain_number,
    whole_number,
)
from ridelog.names import AdjusterKind, CountedFrom
from suspension.quantities.declared import marker_width
from suspension.stroke.marker import LockFacing, MarkerKind

# A step's length without ±, mm: five steps with a ruler, divided by five [common practice, no source].
STEP_U95_MM = 0.1

MARKER = (
    Field(
        "kind", "marker", choice(MarkerKind, ("unknown",)), "tie or o-ring, snug on the shaft.", '"o-ring"'
    ),
    Field(
        "width",
        "marker width",
        length(marker_width, "3.6 mm"),
        "Along the shaft, by caliper: a tie's strap, not its lock.",
        '"2.5 mm"',
        usual=(2, 5),
    ),
    Field("color", "marker colour", as_text, "A bright one is easier to find.", '"orange"'),
    Field(
        "lock",
        "tie's lock",
        choice(LockFacing),
        "meets-seal, where the lock touches the seal first; else leave it out.",
        '"meets-seal"',
        asked=False,
    ),
)

SPRING = (
    Field(
        "rate",
        "spring rate",
        in_dimension(amounts.RATE),
        "Each spring: stamped on it, or in the manual; N/mm, kg/mm or lb/in.",
        '"9.0 N/mm"',
        usual=(6, 160),
    ),
    Field(
        "count",
        "number of springs",
        whole_number(1, 3, "1"),
        "Springs side by side in this one leg; usually 1.",
        "1",
        asked=False,
    ),
    Field(
        "table",
        "spring table",
        force_table(length_in((0, 400), "20 mm", allow_zero=True), in_dimension(amounts.FORCE)),
        "A progressive spring: compression and force, from a spring tester.",
        '[["0 mm", "0 N"], ["20 mm", "150 N"], ["60 mm", "560 N"]]',
        asked=False,
    ),
    Field(
        "wire",
        "wire diameter",
        length_in((1, 25), "4.5 mm"),
        "By caliper, paint off. With coils and mean diameter it gives the rate.",
        '"4.5 mm"',
        asked=False,
    ),
    Field(
        "mean_diameter",
        "mean coil diameter",
        length_in((10, 150), "34 mm"),
        "Outside diameter less one wire; not the outside diameter.",
        '"34 mm"',
        asked=False,
    ),
    Field(
        "active_coils",
        "active coils",
        plain_number(2, 100, "32", "coils"),
        "Coils that move: all but the closed ends.",
        "32",
        asked=False,
    ),
    Field(
        "shear_modulus",
        "shear modulus",
        in_dimension(amounts.STRESS),
        "G of the wire, from the spring's maker; no value is assumed.",
        '"79 GPa"',
        asked=False,
    ),
    Field(
        "preload_at_soft",
        "preload at the soft end",
        length_in((0, 80), "10 mm", allow_zero=True),
        "Adjuster fully soft, wheel hanging: the spring's free length less its length as built in.",
        '"10 mm"',
    ),
)

AIR = (
    Field(
        "piston_diameter",
        "air piston's diameter",
        length_in((5, 80), "41 mm"),
        "What compresses the air: usually the tube's own diameter.",
        '"41 mm"',
        asked=False,
    ),
    Field(
        "volume",
        "air volume",
        in_dimension(amounts.VOLUME),
        "At full extension, above the oil.",
        '"300 ml"',
        asked=False,
    ),
    Field(
        "pressure_absolute",
        "absolute air pressure",
        in_dimension(amounts.PRESSURE),
        "At full extension: what the gauge shows plus 1.013 bar.",
        '"1.013 bar"',
        asked=False,
    ),
)

ADJUSTER = (
    Field(
        "kind",
        "what is counted",
        choice(AdjusterKind),
        "turns, clicks, or positions of a ramp (numbered from 1 at the softest).",
        '"clicks"',
        needed=True,
    ),
    Field(
        "steps",
        "range",
        as_count,
        "Soft end to hard end: count them once, gently, or take it from the manual.",
        '"15 clicks"',
    ),
    Field(
        "step",
        "length of a step",
        length_in((0.05, 10), "1.0 mm", u95_mm=STEP_U95_MM),
        "Spring compressed for each step: measure the collar over five steps, divide by five.",
        '"1.0 mm"',
        usual=(0.2, 5),
    ),
    Field(
        "positions",
        "preload at the positions",
        list_of(length_in((0, 80), "4 mm", allow_zero=True), '["0 mm", "4 mm", "8 mm"]'),
        "A ramp's height at each position from the softest, with a ruler.",
        '["0 mm", "4 mm", "8 mm"]',
        asked=False,
    ),
    Field(
        "counted_from",
        "end counted from",
        choice(CountedFrom),
        "Preload from the soft end; damping from hard, which is fully closed.",
        '"soft"',
        asked=False,
    ),
    Field(
        "standard",
        "standard setting",
        as_count,
        "Manual: the maker's setting, counted from the same end.",
        '"5 clicks"',
    ),
)
