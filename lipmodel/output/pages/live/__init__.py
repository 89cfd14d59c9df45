"""The page of the live horn, with its scripts."""
