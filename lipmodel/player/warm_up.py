"""Compile or load every loop."""

import threading
import time
from functools import lru_cache

from lipmodel.player import radiated
from lipmodel.waveguide import source_loop, time_loop

PATIENCE = 2.5  # s, after which a first call is taken to be compiling


def warm_up(say=lambda text: None, source=False) -> float:
    """Compile the time loop or load it from the cache, with `source` that without a player too;
    seconds taken.

    `say` is called with a sentence when it takes long enough to be the compiler.
    """
    began = time.perf_counter()
    told = "compiling the time loop, once on this machine (about half a minute) ..."
    timer = threading.Timer(PATIENCE, say, (told,))
    timer.daemon = True
    timer.start()
    try:
        _first_call()
        if source:
            source_loop.warm_up()
    finally:
        timer.cancel()
    return time.perf_counter() - began


@lru_cache(maxsize=1)
def _first_call():
    time_loop.warm_up()
    radiated.warm_up()
