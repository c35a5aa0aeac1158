"""``strandline logbook``: the file that holds rides and readings: out, in, copied, checked."""

from __future__ import annotations

from strandline.lazy_group import group

command = group(
    "logbook",
    {
        "export": "Write all of it as JSON or CSV.",
        "import": "Take in what was exported.",
        "backup": "Copy it to a file, also while it is in use.",
        "check": "See whether it is sound.",
    },
    short_help="Export, import, back up and check the logbook.",
    text="The logbook is one file with bikes, load cases, rides, settings and readings. Nothing in it is ever "
    "changed or deleted: a correction is added, and says what it replaces.",
    epilog="Example: strandline logbook backup /media/stick/logbook.sqlite",
)
