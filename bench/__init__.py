"""How fast reading is and how much memory it takes, as ratios measured side by side: ``python -m bench``."""
