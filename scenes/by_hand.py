"""What a careful person with an image editor gets: perfect clicks, scaled by the card's picture.

    python -m scenes.by_hand --count 300

The clicks are the true near-side points of seal, marker and far end, without any error of the hand; their
distances are turned into mm by the card's own scale along its length beside them. No rendering is needed.
"""

from __future__ import annotations

import argparse

import numpy as np

from .camera import aimed, card_corners_mm, facing_rim_mm
from .random_scenes import draw


def errors_mm(seed: int) -> list[float]:
    """Errors of exposed, marker and remaining length of one scene, mm."""
    drawn = draw(seed)
    scene, camera = drawn.scene, aimed(drawn, 1536, 2048)
    eye, radius = camera.eye_mm, float(scene.radius)
    places = [0.0, float(scene.marker[0]), float(scene.exposed)]
    clicks = [camera.project(facing_rim_mm(scene, s, eye, radius, 33)[16:17])[0] for s in places]
    corners = camera.project(card_corners_mm(scene))
    px_per_mm = np.linalg.norm(corners[-1] - corners[1]) / 144.0
    out = []
    for a, b in ((0, 2), (0, 1), (1, 2)):
        out.append(float(np.linalg.norm(clicks[b] - clicks[a]) / px_per_mm) - (places[b] - places[a]))
    return out


def main() -> None:
    """Print median and 95th percentile of the absolute errors."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    args = parser.parse_args()
    table = np.abs([errors_mm(args.seed + k) for k in range(args.count)])
    for name, column in zip(("exposed", "marker", "remaining"), table.T, strict=True):
        print(
            f"{name:10s} median {np.median(column):.2f} mm, 95th percentile {np.percentile(column, 95):.2f} mm"
        )


if __name__ == "__main__":
    main()
