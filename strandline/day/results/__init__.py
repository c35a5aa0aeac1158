"""What the day came to: exceptions, bikes with their legs, comparisons."""
