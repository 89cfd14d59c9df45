"""Imported by the process that workers are forked from, and by no other: the compiled loop is
loaded once for all of them."""

import signal

signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the first process's affair

from lipmodel.studies import map_cells  # noqa: E402, F401 - what their tasks call
from lipmodel.waveguide.time_loop import warm_up  # noqa: E402

warm_up()
