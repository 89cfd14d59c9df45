"""The page to listen without knowing, with its scripts."""
