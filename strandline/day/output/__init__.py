"""What a day leaves behind: tables, page, sheets, and rides in the logbook."""
