"""Make a network of where training stands: ``python training/export.py STATE --net part_segmentation --out FILE``."""

from __future__ import annotations

import argparse
from pathlib import Path

import networks
import pretrained
import torch
from train import VIEW_OF, export


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split(":")[0])
    parser.add_argument("state", type=Path)
    parser.add_argument("--net", choices=tuple(VIEW_OF), required=True)
    parser.add_argument("--pretrained", action="store_true", help="parts on an encoder trained by others")
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    kept = torch.load(args.state, map_location="cpu")
    made = pretrained.pretrained_parts if args.pretrained else getattr(networks, args.net)
    model = made()
    model.load_state_dict(kept["mean"])
    model.eval()
    if kept["weights"] is not None:
        networks.take_back(model, kept["weights"])
    export(model, args.net, args.out)


if __name__ == "__main__":
    main()
