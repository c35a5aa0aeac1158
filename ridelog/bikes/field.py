"""What is known of one value of a bike's file: its name, how it is read, and the help that goes with it."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.values import (
    Reader,
)


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
