"""From the open end to a level: listener, loudness, alignment, steepening."""
