"""``strandline advise``: what to change next, why, and when to stop."""
