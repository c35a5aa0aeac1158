"""All that a bike's file may hold: how each value is read, and the help that goes with its question.

One list serves the reader, the questions of ``strandline bike new`` and the comments in a new file. Here the
bike, its ends and its legs; the parts of a leg stand in `leg_parts`.
"""

from __future__ import annotations

from ridelog.bikes import amounts
from ridelog.bikes.field import Field
from ridelog.bikes.values import (
    as_motion_ratio,
    as_text,
    as_yes_no,
    choice,
    in_dimension,
    length,
    length_in,
)
from ridelog.names import LegName, Use
from suspension.quantities.declared import extended_length, shaft_diameter, stroke_length
from suspension.stroke.leg import Layout

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
        "wheel_radius",
        "wheel radius",
        length_in((200, 400), "300 mm"),
        "Front axle to the ground, bike loaded. With rake and offset it gives the trail. Front only.",
        '"300 mm"',
        asked=False,
    ),
    Field(
        "fork_offset",
        "fork offset",
        length_in((0, 150), "40 mm", allow_zero=True),
        "From the steering axis forward to the front axle, square to the axis. Front only.",
        '"40 mm"',
        asked=False,
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
