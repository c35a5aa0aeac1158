"""The command line of ``from_marks.py`` and ``near_marks.py``: marks that a hand set on photographs into views."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import drawn_bands
import numpy as np
from hand_marks import marked

# Of one shaft: its marks, the photograph, how many views, random numbers.
ViewsOf = Callable[[dict[str, Any], np.ndarray, int, np.random.Generator], dict[str, np.ndarray]]


@dataclass(frozen=True)
class MarksCommand:
    """What was asked for: a file of marks beside its photographs, and the file to write."""

    marks: Path
    out: Path
    variants: int
    seed: int

    @classmethod
    def parsed(cls, doc: str | None) -> MarksCommand:
        """Take it from the command line; the first line of `doc` describes it."""
        parser = argparse.ArgumentParser(description=(doc or "").splitlines()[0])
        parser.add_argument("marks", type=Path)
        parser.add_argument("--out", type=Path, required=True)
        parser.add_argument("--variants", type=int, default=4)
        parser.add_argument("--seed", type=int, default=1)
        return cls(**vars(parser.parse_args()))

    def views(self, views_of: ViewsOf, least_radius_px: float = 0.0) -> tuple[int, dict[str, Any]]:
        """Make views of every shaft of that radius at least; return the number of shafts, and the arrays joined."""
        parts = []
        for k, raw in enumerate(json.loads(self.marks.read_text(encoding="utf-8"))):
            if marked(raw).radius_px >= least_radius_px:
                pixels = drawn_bands.opened(self.marks.parent / raw["file"])
                parts.append(views_of(raw, pixels, self.variants, np.random.default_rng([self.seed, k])))
        return len(parts), {name: np.concatenate([one[name] for one in parts]) for name in parts[0]}
