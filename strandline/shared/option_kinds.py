"""Kinds of options and values of the commands: former spellings, defaults from the settings, limits in plain words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])


def with_options(command: F, options: Sequence[Callable[[F], F]]) -> F:
    """Add options to a command, in the order in which its help lists them."""
    for option in reversed(options):
        command = option(command)
    return command


class RenamedOption(click.Option):
    """An option that also answers to its former spellings, which help and completion do not show.

    Parameters
    ----------
    former : sequence of str
        Spellings, such as "--overlay".
    """

    def __init__(self, *args: Any, former: Sequence[str] = (), **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.former = tuple(former)

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Let the parser know the former spellings."""
        shown = self.opts
        self.opts = [*shown, *self.former]
        try:
            super().add_to_parser(parser, ctx)
        finally:
            self.opts = shown


class SettingOption(click.Option):
    """An option whose default stands in the settings file, where it is set there.

    Parameters
    ----------
    setting : str
        Name of the setting.
    """

    def __init__(self, *args: Any, setting: str, **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.setting = setting

    def get_default(self, ctx: click.Context, call: bool = True) -> Any:
        """Give the setting, else the option's own default; help and completion show the latter."""
        if call and not ctx.resilient_parsing:
            from strandline.shared.messages import errors_as_messages
            from strandline.shared.settings import setting

            with errors_as_messages():
                kept = setting(self.setting)
            if kept is not None:
                return kept
        return super().get_default(ctx, call)


class WithAdvanced(click.Command):
    """A command whose help lists the options of machines and scripts apart, after those of people.

    Parameters
    ----------
    advanced : sequence of str
        Names of their parameters.
    """

    def __init__(self, *args: Any, advanced: Sequence[str] = (), **attrs: Any) -> None:
        super().__init__(*args, **attrs)
        self.advanced = tuple(advanced)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write two lists."""
        lists: tuple[list[tuple[str, str]], list[tuple[str, str]]] = ([], [])
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx) if isinstance(param, click.Option) else None
            if record is not None:
                lists[param.name in self.advanced].append(record)
        for title, records in zip(("Options", "Advanced"), lists, strict=True):
            if records:
                with formatter.section(title):
                    formatter.write_dl(records)


class FormerArgument(click.Argument):
    """An argument of an earlier version that is still read; help does not show it."""

    def get_usage_pieces(self, ctx: click.Context) -> list[str]:
        """Leave it out of the usage line."""
        return []


class WholeNumber(click.IntRange):
    """A whole number within limits, with a message in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        try:
            number = int(value)
        except ValueError:
            self.fail(f"“{value}” is not a whole number{self._limits()}.", param, ctx)
        if (self.min is not None and number < self.min) or (self.max is not None and number > self.max):
            self.fail(f"{number} is not allowed: give a whole number{self._limits()}.", param, ctx)
        return number

    def _describe_range(self) -> str:
        """Write the limits as help shows them."""
        return self._limits().strip(" ,").removeprefix("from ")

    def _limits(self) -> str:
        if self.min is not None and self.max is not None:
            return f" from {self.min} to {self.max}"
        return "" if self.min is None else f", {self.min} or more"


class Seconds(click.FloatRange):
    """A time in seconds within limits, with a message in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f"“{value}” is not a number of seconds{self._limits()}.", param, ctx)

    def _describe_range(self) -> str:
        """Write the limits as help shows them."""
        return self._limits().removeprefix(" from ")

    def _limits(self) -> str:
        return f" from {self.min:g} to {self.max:g}"


class Mass(click.FloatRange):
    """A mass in kg without a unit, with a message in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f"“{value}” is not a number of kg, {self.min:g} or more.", param, ctx)

    def _describe_range(self) -> str:
        """Write the limits as help shows them."""
        return f"{self.min:g} or more"
