"""Results of the day: exceptions, bikes with their legs, comparisons."""
