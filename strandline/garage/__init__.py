"""``strandline garage``: pages for a phone beside the bike, served by this machine."""
