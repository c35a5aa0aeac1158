"""``strandline completion``: the shell completes commands and options."""
