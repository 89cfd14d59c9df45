"""Package docstring."""
