"""``strandline loads``: what each axle carries, against the plate."""
