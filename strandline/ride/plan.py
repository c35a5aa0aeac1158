"""``strandline ride plan``: what to do in the next session, in order."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import bike_option, json_option, logbook_option
from strandline.shared.storage import opened


@click.command(
    "plan",
    epilog="Example: strandline ride plan --bike grey-twin --load solo",
    short_help="Plan the next session: sag, pressures, the loop, a step.",
)
@bike_option
@click.option(
    "--load", metavar="NAME", help="What the bike carried, in a few words: solo, 'passenger and bags'."
)
@click.option("--route", metavar="NAME", help="Name of the route. Left out: that of the latest ride.")
@logbook_option
@json_option
def command(bike: str, load: str | None, route: str | None, logbook_path: Path | None, as_json: bool) -> None:
    """Plan the next session: the marker, the tyre pressures, sag, the same loop three times, then one step.

    What is done already is left out. After a leak, a hard knock or a crack the plan is to have it looked at.
    """
    from strandline.ride.plan_steps import plan_session
    from strandline.shared.messages import errors_as_messages
    from strandline.shared.storage import bike_read, place
    from strandline.shared.wrapped import say_lines

    with errors_as_messages():
        its = bike_read(logbook_path, bike).bike
        if place(logbook_path).exists():
            with opened(logbook_path, create=False) as logbook:
                plan = plan_session(logbook, its, load, route)
        else:
            plan = plan_session(None, its, load, route)
    if as_json:
        click.echo(json.dumps({"stop": plan.stop, "steps": plan.steps, "cautions": plan.cautions}))
        return
    for words in plan.stop:
        say_lines(f"Stop riding until this has been looked at: {words}.")
    for number, words in enumerate(plan.steps, start=1):
        say_lines(f"{number}. {words}")
    for words in plan.cautions:
        say_lines(words)
