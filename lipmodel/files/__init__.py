"""The only package that touches a disk: reading, checked tables, atomic writing, sound files and
the cache.

Long sounds.
Traces of more than `long_arrays.HELD` samples (a minute at 48 kHz) lie in a file without a name
beside the output and are worked through in pieces; what they give is sliced like arrays, so that
the same code serves both. States to play on from are kept further apart then. The page names
`sound.wav` beside it instead of holding it. Half an hour at 48 kHz: 386 MB at the most, two to
three and a half minutes, 12.4 GB on disk while it is made and 5.1 GB to keep (2 minutes: 356 MB).
A `[source]`, comparisons, films and lessons hold their sounds in memory and say how long they may
be.
"""
