"""All that a bike's file may hold: how each value is read, and the help that goes with its question.

One list serves the reader, the questions of ``strandline bike new`` and the comments in a new file. Here the
bike, its ends and its legs; the parts of a leg stand in `leg_fields`.
"""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes import amounts
from ridelog.bikes.values import (
    Reader,
    as_count,
    as_motion_ratio,
    as_text,
    as_yes_no,
    choice,
    force_table,
    in_dimension,
    length,
    length_in,
    list_of,
    plain_number,
    whole_number,
)
from ridelog.names import AdjusterKind, CountedFrom, LegName, Use
from suspension.quantities.declared import extended_length, marker_width, shaft_diameter, stroke_length
from suspension.stroke.leg import Layout
from suspension.stroke.marker import LockFacing, MarkerKind


@dataclass(frozen=True)
class Field:
    """One value of a bike's file.

    Attributes
    ----------
    key : str
        In the file, and the attribute of the dataclass that holds it.
    title : str
        What messages call it.
    read : Reader
    where : str
        A line for the person: what it is, where in the manual it stands, or how it is measured.
    example : str
        As it stands in the file, quotation marks included.
    needed : bool
        The file is refused without it.
    asked : bool
        Whether ``bike new`` asks for it; the rest stands in the file as a comment.
    usual : tuple of float, or None
        Figures of the trade; outside, the owner is asked to check the value [common practice, no source].
    """

    key: str
    title: str
    read: Reader
    where: str
    example: str
    needed: bool = False
    asked: bool = True
    usual: tuple[float, float] | None = None


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


BIKE = (
    Field("name", "name", as_text, "What you call this bike; it names its file.", '"Grey twin"', needed=True),
    Field(
        "use",
        "use",
        choice(Use),
        "street (touring too), sport or off-road: chooses the windows of sag.",
        '"street"',
    ),
    Field(
        "wheelbase",
        "wheelbase",
        length_in((800, 2500), "1460 mm"),
        "Manual, dimensions: axle to axle.",
        '"1460 mm"',
        usual=(1200, 1800),
    ),
    Field(
        "mass",
        "mass",
        in_dimension(amounts.MASS),
        "Manual, weights: ready to ride, tank full, no rider.",
        '"210 kg"',
        usual=(90, 400),
    ),
    Field(
        "total_limit",
        "total limit",
        in_dimension(amounts.MASS),
        "Plate on the frame, or the papers: permitted total mass.",
        '"400 kg"',
        usual=(200, 700),
    ),
    Field("note", "note", as_text, "Anything you want to remember.", '"wider bars"', asked=False),
)

END = (
    Field(
        "limit",
        "axle limit",
        in_dimension(amounts.MASS),
        "Plate on the frame, or the papers: permitted mass on this axle.",
        '"160 kg"',
        usual=(80, 400),
    ),
    Field(
        "wheel_load",
        "wheel load",
        in_dimension(amounts.MASS),
        "Unladen bike upright, this wheel on a scale, the other on a block as high.",
        '"102 kg"',
        usual=(40, 250),
    ),
    Field(
        "wheel_travel",
        "wheel travel",
        length_in((30, 400), "110 mm"),
        "Manual, chassis data: the axle's travel, measured vertically.",
        '"110 mm"',
        usual=(60, 310),
    ),
    Field(
        "rake",
        "rake",
        in_dimension(amounts.ANGLE),
        "Manual, chassis data: the fork's angle from the vertical (rake, caster). Fork only.",
        '"25 deg"',
        usual=(15, 40),
    ),
    Field(
        "motion_ratio",
        "motion ratio",
        as_motion_ratio,
        "Stroke of the shock over vertical wheel travel: lift the wheel, measure both. Not needed for a fork.",
        "0.75",
    ),
    Field(
        "unsprung",
        "unsprung mass",
        in_dimension(amounts.MASS),
        "Wheel, brake and half the arm or the fork's sliders, weighed when apart.",
        '"15 kg"',
        asked=False,
        usual=(10, 25),
    ),
    Field(
        "tyre_solo",
        "tyre pressure, solo",
        in_dimension(amounts.PRESSURE),
        "Placard or manual: cold, rider alone.",
        '"2.5 bar"',
        usual=(100, 350),
    ),
    Field(
        "tyre_loaded",
        "tyre pressure, loaded",
        in_dimension(amounts.PRESSURE),
        "Placard or manual: cold, with passenger and luggage.",
        '"2.9 bar"',
        usual=(100, 350),
    ),
)

LEG = (
    Field(
        "same_as",
        "other leg",
        choice(LegName),
        "Takes over all that the other leg holds and this one does not.",
        '"front-left"',
        asked=False,
    ),
    Field(
        "layout",
        "layout",
        choice(Layout),
        "fork (the clamp holds the shaft), upside-down-fork (the axle foot does), or shock.",
        '"fork"',
        needed=True,
    ),
    Field(
        "shaft",
        "shaft diameter",
        length(shaft_diameter, "41.0 mm"),
        "The bare, shiny shaft across, by caliper, twice at right angles.",
        '"41.0 mm"',
    ),
    Field(
        "extended",
        "extended length",
        length(extended_length, "205 mm"),
        "Wheel hanging free, never pulled: seal to lower clamp, axle foot, or the bumper's free face.",
        '"205 mm"',
    ),
    Field(
        "stroke",
        "stroke",
        length(stroke_length, "120 mm"),
        "Manual: travel of fork or shock along its shaft, to the hard stop.",
        '"120 mm"',
    ),
    Field(
        "bumper_contact",
        "stroke at bumper contact",
        length(stroke_length, "80 mm"),
        "Stroke at which the bumper is met; a shock's is its extended length, so leave it out there.",
        '"105 mm"',
        asked=False,
    ),
    Field(
        "bumper_free",
        "bumper",
        length_in((1.5, 60), "20 mm"),
        "Shock: the rubber bumper's free length, with a ruler.",
        '"20 mm"',
        usual=(10, 30),
    ),
    Field(
        "bumper_crushed",
        "crushed bumper",
        length_in((1.0, 60), "8 mm"),
        "Shock: what remains of it when fully crushed; seldom known.",
        '"8 mm"',
    ),
    Field(
        "has_spring",
        "has a spring",
        as_yes_no,
        "Some forks have their spring in one leg.",
        "true",
        asked=False,
    ),
    Field(
        "has_damper",
        "has a damper",
        as_yes_no,
        "Some forks have their damper in one leg.",
        "true",
        asked=False,
    ),
)
