"""``strandline bike``: the bikes' files."""

from __future__ import annotations

from strandline.lazy_group import group

command = group(
    "bike",
    {
        "new": "Describe a bike, question by question.",
        "show": "Show what is known of a bike.",
        "edit": "Change a bike's file.",
        "list": "List the bikes.",
    },
    short_help="Describe bikes, and show, change and list them.",
    text="A bike is a TOML file that you may edit with any editor. Units stand wherever a number is, and \"don't "
    'know" is an answer.',
    epilog='Example: strandline bike new "Grey twin"',
)
