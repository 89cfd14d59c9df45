"""The machine: signals, worker processes, versions. Nothing of brass."""
