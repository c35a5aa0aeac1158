"""Output of a day: tables, page, sheets, and rides in the logbook."""
