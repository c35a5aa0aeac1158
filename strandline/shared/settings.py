"""The settings file: defaults of options, and the print scale of each card that was measured.

It is a small TOML file in the platform's folder for configuration; ``STRANDLINE_SETTINGS`` names another.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ridelog.errors import FileError
from strandline.shared.one_at_a_time import one_at_a_time
from strandline.shared.suggest import did_you_mean

VARIABLE = "STRANDLINE_SETTINGS"
FILE = "settings.toml"
SCALES = "print_scale"
"""The table of print scales: a card's number, and along x across."""

NAMES = {
    "bike": "the bike, where none is named",
    "load": "the load of a ride and of sag, where none is named",
    "by": "who measured, where nobody is named",
    "units": "mm or in",
    "paper": "a4 or letter",
}
"""Names of the settings, and what each does."""

# As the options have them, which import this module; a test compares them.
ALLOWED = {"units": ("mm", "in"), "paper": ("a4", "letter")}
# A handful of short lines; 47 cards are another 47.
_LARGEST_BYTES = 100_000
_HEAD = "# Strandline's settings. Shown and changed by: strandline settings\n"


@dataclass(frozen=True)
class Settings:
    """What the settings file says.

    Attributes
    ----------
    values : mapping
        By the names in `NAMES`; what is not set is left out.
    scales : mapping
        Print scale, as written, by the card's number.
    """

    values: Mapping[str, str] = field(default_factory=dict)
    scales: Mapping[int, str] = field(default_factory=dict)


def settings_path() -> Path:
    """Find the settings file, whether it is there or not."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("strandline", appauthor=False) / FILE


def settings_text() -> str:
    """Read the file; "" where there is none.

    Raises
    ------
    FileError
    """
    from ridelog.regular_file import read_regular

    path = settings_path()
    try:
        return read_regular(path, _LARGEST_BYTES).decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        return ""
    except OSError as error:
        raise FileError(
            f"{path} cannot be read: {error.strerror or error}.", "Change its permissions."
        ) from error
    except ValueError as error:
        raise FileError(f"{path} is not UTF-8 text.", "Save it as UTF-8 in your editor.") from error


def read_settings() -> Settings:
    """Read the settings.

    Raises
    ------
    FileError
        Saying what is wrong in the file.
    """
    return parse_settings(settings_text())


def parse_settings(text: str) -> Settings:
    """Parse the file's text.

    Raises
    ------
    FileError
    """
    import tomllib

    try:
        found = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise _in_file(FileError(f"It is not TOML ({error}).", "")) from error
    scales = found.pop(SCALES, {})
    try:
        if not isinstance(scales, dict):
            raise FileError(f"{SCALES} is no table of cards.", "")
        values = {name: _value(name, value) for name, value in found.items()}
        return Settings(values, {_card(name): _scale(name, value) for name, value in scales.items()})
    except FileError as error:
        raise _in_file(error) from error


def check_setting(name: str, value: str) -> None:
    """Check a name and a value that somebody typed; an empty value is always right.

    Raises
    ------
    FileError
    """
    table, sign, key = name.partition(".")
    if sign and table == SCALES:
        _card(key)
        if value:
            _scale(key, value)
    else:
        _value(name, value or next(iter(ALLOWED.get(name, ("",)))))


def _value(name: str, value: Any) -> str:
    if name not in NAMES:
        raise FileError(
            f"There is no setting {name}.", did_you_mean(name, NAMES) or f"There are: {', '.join(NAMES)}."
        )
    allowed = ALLOWED.get(name)
    if not isinstance(value, str):
        raise FileError(f"{name} is no text.", f'Write, for example, {name} = "{(allowed or ["…"])[0]}".')
    if allowed is not None and value.lower() not in allowed:
        raise FileError(f"{name} cannot be “{value}”.", f"Write {' or '.join(allowed)}.")
    return value.lower() if allowed is not None else value


def _card(name: str) -> int:
    from calibration.card import CARD_COUNT

    number = name.removeprefix("card-")
    if not (number.isascii() and number.isdigit() and len(number) <= 2 and int(number) < CARD_COUNT):
        raise FileError(f"There is no card “{name}”.", f"Cards are numbered 0 to {CARD_COUNT - 1}.")
    return int(number)


def _scale(name: str, value: Any) -> str:
    from suspension.errors import QuantityError
    from suspension.quantities.print_scale import print_scale

    try:
        print_scale(str(value))
    except QuantityError as error:
        raise FileError(f"Card {name}: {error.message}", error.remedy) from error
    return str(value)


def _in_file(error: FileError) -> FileError:
    remedy = error.remedy or "Fix it with strandline settings --edit."
    return FileError(f"In the settings file {settings_path()}: {error.message}", remedy)


def set_values(changes: Mapping[str, str]) -> Settings:
    """Change settings, and keep comments and order; an empty value removes one.

    Parameters
    ----------
    changes : mapping
        By name; ``print_scale.0`` is card 0's.

    Raises
    ------
    FileError, strandline.shared.files.OutputError
    """
    with one_at_a_time(settings_path()):
        return _set_values(changes)


def _set_values(changes: Mapping[str, str]) -> Settings:
    import tomlkit

    text = settings_text()
    parse_settings(text)
    document = tomlkit.parse(text or _HEAD)
    for name, value in changes.items():
        table, _, key = name.rpartition(".")
        place: Any = document
        if table:
            if table not in document and value:
                document[table] = tomlkit.table()
            place = document.get(table, {})
        if value:
            place[key] = value
        else:
            place.pop(key, None)
    after = tomlkit.dumps(document)
    found = parse_settings(after)
    write_settings(after)
    return found


def write_settings(text: str) -> None:
    """Write the file, whole or not at all.

    Raises
    ------
    strandline.shared.files.OutputError
    """
    from strandline.shared.files import make_folder, write_new

    path = settings_path()
    make_folder(path.parent, private=True)
    write_new(path, text.encode("utf-8"), force=True)


def setting(name: str) -> str | None:
    """Give one setting, or None; a file that cannot be used is an error.

    Raises
    ------
    FileError
    """
    return read_settings().values.get(name) if settings_path().exists() else None


def kept_scales() -> Mapping[int, str]:
    """Give the print scales that were measured, by the card's number.

    Raises
    ------
    FileError
    """
    return read_settings().scales if settings_path().exists() else {}
