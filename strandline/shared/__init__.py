"""What every command uses: messages, files, options, where the logbook lies, units."""
