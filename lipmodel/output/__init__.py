"""What is told and shown: reports, sentences, pictures, pages, and the products made of them.

The same again.
`report.json` holds what a run was made of: `inputs` with every default, `bore` as it was played,
the rate and seed in them, and `made_with`, versions and kind of machine.
`tests/whole/test_reproducible.py` builds scenes from nothing but a report and gets the same
`sha256`, and the same bytes from two fresh processes with empty caches.
`tests/reference/features.csv` pins what every scene in `scenes/` sounds like (pitches, level,
centroid, lengths); `python tests/reference/make_features.py` makes it again and says what moved.
Its head says who judged the sounds, and how.
"""
