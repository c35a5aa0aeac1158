"""``strandline ride``: rides and what was read after them."""

from __future__ import annotations

from strandline.lazy_group import group

command = group(
    "ride",
    {
        "add": "Record a ride with its settings and readings.",
        "list": "List the rides.",
        "show": "Show a ride.",
        "amend": "Correct a ride, or strike it out.",
    },
    short_help="Record rides, and list, show and amend them.",
    text="A ride is a day on a route with a load, the settings of each leg, and what its markers showed "
    "afterwards, typed or read from photos.",
    epilog='Example: strandline ride add --bike grey-twin --route "Ridge loop" --photo rear=IMG_1.jpg',
)
