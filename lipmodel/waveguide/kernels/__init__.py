"""The compiled loops: arrays and floats in, a status code out. The only home of numba."""
