"""From a bike's file and the logbook to what `suspension` takes. No click, no text."""
