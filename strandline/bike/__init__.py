"""``strandline bike``: describe bikes, and show, change and list them."""
