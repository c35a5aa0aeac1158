"""Forces, rates and adjusters."""
