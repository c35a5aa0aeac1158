"""What an owner keeps: bikes, load cases, rides, settings and readings, in one file that loses nothing."""
