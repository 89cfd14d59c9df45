"""What a run was made with: this package's version, Python, libraries and the kind of machine."""

import platform
from functools import lru_cache
from importlib import metadata

LIBRARIES = ("numpy", "numba", "scipy")  # on whose versions the last digits of a sound depend


def version() -> str:
    """This package's version, "unknown" where it is not installed."""
    try:
        return metadata.version("lipmodel")
    except metadata.PackageNotFoundError:
        return "unknown"


def machine() -> str:
    """System and processor, such as "Linux x86_64"; nothing that tells whose machine it is."""
    return f"{platform.system()} {platform.machine()}"


@lru_cache(maxsize=1)
def versions() -> dict:
    """Versions by name, and the kind of machine, for report.json."""
    libraries = {name: metadata.version(name) for name in LIBRARIES}
    return {"python": platform.python_version(), **libraries, "machine": machine()}
