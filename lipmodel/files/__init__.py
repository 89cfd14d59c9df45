"""The only package that touches a disk: reading, checked tables, atomic writing, sound files and
the cache."""
