"""How the results of ``strandline read`` are shown: for a person, or as a line of JSON for each photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import click

from strandline.read.explain import as_fields, show_budgets
from strandline.read.inputs import ReadInputs
from strandline.read.json_line import json_line
from strandline.read.one_photo import Outcome
from strandline.read.several import Together, fields_together, show_together
from strandline.read.text import show_end, show_notes, show_photo


@dataclass(frozen=True)
class Show:
    """What to show of a photo.

    Attributes
    ----------
    as_json : bool
    explain : bool
        Where each uncertainty comes from.
    curves : bool
        The curves of the edges, in JSON.
    brief : bool
        Only the answers, since a ride is recorded with it, or may be: that says the cautions.
    """

    as_json: bool
    explain: bool
    curves: bool
    brief: bool

    def photo(self, outcome: Outcome, name: str, inputs: ReadInputs) -> None:
        """Show one photo, as soon as it is read."""
        if self.as_json:
            more = as_fields(outcome) if self.explain else None
            click.echo(json_line(outcome, inputs.assumed, more, curves=self.curves))
        else:
            show_photo(outcome, name, inputs.units, inputs.leg.layout.far_end)
            if not self.brief:
                show_notes(outcome)

    def end(
        self, outcomes: Sequence[Outcome], together: Together | None, inputs: ReadInputs, *, from_file: bool
    ) -> None:
        """Show what holds for all photos."""
        if together is not None:
            self._together(together, inputs)
        if self.as_json:
            return
        if not self.brief:
            show_end(outcomes, inputs.assumed, from_file=from_file)
        if self.explain:
            show_budgets(outcomes, inputs.units)

    def rest(self, outcome: Outcome, inputs: ReadInputs) -> None:
        """Show what was left out of a photo that is not recorded after all."""
        show_notes(outcome)
        show_end((outcome,), inputs.assumed, from_file=True)

    def _together(self, together: Together, inputs: ReadInputs) -> None:
        if self.as_json:
            fields = fields_together(together)
            click.echo(json_line(together.outcome, inputs.assumed, fields, curves=self.curves))
            return
        click.echo()
        show_photo(together.outcome, together.outcome.name, inputs.units, inputs.leg.layout.far_end)
        show_notes(together.outcome)
        show_together(together, inputs.units)
