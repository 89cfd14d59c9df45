"""One module a command; each has `run(args)`."""
