"""Imported by the process that workers are forked from, and by no other: the compiled loop is
loaded once for all of them."""

from lipmodel import atlas  # noqa: F401 - what their tasks call
from lipmodel.timeloop import rehearse

rehearse()
