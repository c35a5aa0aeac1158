"""The next step, the prediction behind it, and settings of several owners."""
