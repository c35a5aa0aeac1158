"""Asking one question after the other: progress, a way back, help, and answers kept as they come."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import click

from ridelog.errors import LogbookError
from strandline.shared.messages import printable
from suspension.errors import SuspensionError

Answers = dict[str, str]
"""What was typed, by question; "" for what is not known."""

# Columns of a terminal that nobody has widened.
WIDTH = 80


@dataclass(frozen=True)
class Question:
    """A question with what helps to answer it.

    Attributes
    ----------
    key : str
    title : str
        The question itself.
    example : str
        An answer.
    about : str
        Where the value stands or how it is measured, shown for "?".
    needed : bool
        Whether "don't know" is no answer.
    usual : str
        What Enter alone answers, or "" for "don't know".
    """

    key: str
    title: str
    example: str
    about: str
    needed: bool = False
    usual: str = ""


def say(text: str, indent: str = "") -> None:
    """Write to standard error, so that --json stays clean; lines break between words, at 80 columns."""
    for line in text.split("\n"):
        filled = textwrap.fill(
            printable(line),
            WIDTH - 1,
            initial_indent=indent,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
        click.echo(filled, err=True)


def ask(
    questions: Callable[[Answers], Sequence[Question]],
    answers: Answers,
    check: Callable[[Answers, Question], Sequence[str]],
    keep: Callable[[Answers], None],
) -> None:
    """Ask what is not answered yet.

    Parameters
    ----------
    questions : function
        From what was answered so far to all questions, in order; an answer may make a later one needless.
    answers : dict
        Filled in place.
    check : function
        From answers, the new one among them, to what is unusual; it raises where the new one is wrong.
    keep : function
        Called after each answer.

    Raises
    ------
    click.Abort
        The person stopped; what was answered is in `answers`.
    """
    at = 0
    back = again = False
    while at < len(asked := questions(answers)):
        one = asked[at]
        if one.key in answers and not back:
            at += 1
            continue
        if not again:
            say(f"\n{at + 1} of {len(asked)}  {one.title}")
            say(f"For example: {one.example}", "  ")
        back = again = False
        typed = _answer(one, answers)
        if typed == "<":
            if at == 0:
                say("This is the first question.", "  ")
            at, back = max(at - 1, 0), True
            continue
        if not typed and one.needed:
            say(f"This one is needed. For example: {one.example}", "  ")
            back = again = True
            continue
        try:
            unusual = check({**answers, one.key: typed}, one)
        except (LogbookError, SuspensionError) as error:
            say(f"{error.message} {plain_remedy(error.remedy)}", "  ")
            back = again = True
            continue
        for words in unusual:
            say(words + " (< goes back.)", "  ")
        answers[one.key] = typed
        keep(answers)
        at += 1


def _answer(one: Question, answers: Answers) -> str:
    """Read one answer; "" for "don't know", "<" for the question before."""
    from ridelog.bikes.amounts import is_dont_know

    before = answers.get(one.key)
    while True:
        default = before if before is not None else one.usual
        typed = str(
            click.prompt(" ", default=default, show_default=bool(default), prompt_suffix="> ", err=True)
        ).strip()
        if typed in ("?", "help"):
            say(one.about, "  ")
            continue
        return "" if is_dont_know(typed) else typed


def plain_remedy(remedy: str) -> str:
    """Give a remedy for an answer: a file needs quotes round a number with its unit, an answer does not."""
    return remedy.replace(" in quotes", "")
