"""Pages to show to a class, as values: data in, one HTML string out that opens offline."""
