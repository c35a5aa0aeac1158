"""From a calibrated photo to lengths on the shaft."""
