"""Compile or load every loop."""

import time
from functools import lru_cache

from lipmodel.mouth import Mouth
from lipmodel.player import radiated
from lipmodel.waveguide import source_loop, time_loop


def warm_up(say=lambda text: None, source=False, mouth=False) -> float:
    """Compile the time loop or load it from the cache, with `source` that without a player too,
    with `mouth` that with one; seconds taken.

    `say` is called with a sentence where something has to be compiled.
    """
    from lipmodel.waveguide.kernels.compiler import when_compiling

    began = time.perf_counter()
    with when_compiling(lambda: say("compiling the time loop (about half a minute) ...")):
        _first_call()
        if source:
            source_loop.warm_up()
        if mouth:
            time_loop.warm_up(Mouth(500.0))
    return time.perf_counter() - began


@lru_cache(maxsize=1)
def _first_call():
    time_loop.warm_up()
    radiated.warm_up()
