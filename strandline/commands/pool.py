"""``strandline pool``: settings of several owners of one kind of bike."""

from __future__ import annotations

from strandline.lazy_group import group

command = group(
    "pool",
    {
        "export": "Write your settings as CSV, without anything personal.",
        "show": "Put several owners' settings together.",
        "demo": "Write invented settings of eight owners to try it with.",
    },
    short_help="Exchange settings with other owners, and put them together.",
    text="Owners of one kind of bike exchange their settings by load as CSV. The files carry no names, dates, routes "
    "or notes. Owners differ, and what is put together says how far.",
    epilog="Example: strandline pool show mine.csv theirs.csv -o charts",
)
