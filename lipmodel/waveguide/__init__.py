"""The air column in the time domain: the ladder, its fit, and the compiled loops."""
