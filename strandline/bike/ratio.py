"""``strandline bike ratio``: the motion ratio of a shock on a swingarm, from lengths and angles."""

from __future__ import annotations

import json

import click

from strandline.shared.options import json_option


@click.command(
    "ratio",
    epilog="Example: strandline bike ratio --mount '400 mm' --arm '500 mm' --shock-angle '70 deg'",
    short_help="Work out a shock's motion ratio from the swingarm.",
)
@click.option(
    "--mount",
    required=True,
    metavar="LENGTH",
    help="From the swingarm's pivot to the shock's lower mount: '400 mm'.",
)
@click.option("--arm", required=True, metavar="LENGTH", help="From the pivot to the wheel's axle: '500 mm'.")
@click.option(
    "--shock-angle",
    required=True,
    metavar="ANGLE",
    help="Between the shock and the line from pivot to mount: '70 deg'. Of an angle over 90 deg, give 180 deg less it.",
)
@click.option(
    "--arm-angle",
    default="0 deg",
    show_default=True,
    metavar="ANGLE",
    help="Between the line from pivot to axle and the horizontal.",
)
@json_option
def command(mount: str, arm: str, shock_angle: str, arm_angle: str, as_json: bool) -> None:
    """Work out the motion ratio, stroke over wheel travel, of a shock that stands on the swingarm without a linkage.

    It changes with travel: work it out at several strokes, and write the pairs into the bike's file. With a linkage
    measure stroke and wheel travel step by step instead.
    """
    from ridelog.bikes.amounts import ANGLE
    from strandline.shared.messages import errors_as_messages
    from suspension.quantities.declared import amount, by_rule
    from suspension.quantities.plausibility import Figure, warn_of
    from suspension.springs.motion_ratio import swingarm_motion_ratio

    with errors_as_messages():
        ratio = swingarm_motion_ratio(
            by_rule(mount, name="length from pivot to mount").value,
            amount(ANGLE, shock_angle, name="angle of the shock").value,
            by_rule(arm, name="length from pivot to axle").value,
            amount(ANGLE, arm_angle, name="angle of the arm").value,
        )
    unusual = warn_of(Figure.TWIN_SHOCK_RATIO, round(ratio, 3))
    if as_json:
        click.echo(json.dumps({"motion_ratio": ratio, "unusual": unusual}))
        return
    click.echo(f"Motion ratio {ratio:.3f} (stroke over wheel travel) in this position.")
    if unusual is not None:
        click.echo(unusual)
    click.echo(f"For the bike's file: strandline bike edit BIKE --set rear.motion_ratio={ratio:.3f}")
