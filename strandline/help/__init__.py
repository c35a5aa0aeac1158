"""``strandline help``: the overview, a command's help, and the words this program uses."""
