"""What a scene or lesson file may say, one module a table, values still in the file's units.

Scenes from anywhere.
A file names others only inside its own folder (`files/paths.py`), through links too;
`--allow-outside` lifts that for one command. A bundle then holds what lies beside the project
too, with the folder that holds it all as its top, so that `rerun.py` needs no option; a file
named by an absolute path is refused there. Only plain files are read, up to 4 MB (results 5 MB).
Bounds: 200 keys a table, 20 levels, 50 problems told, 100 sections, 10 000 points a section and
20 000 a bore, 50 m of bore, 10 000 breakpoints, 5000 notes, 50 variants, 40 scenes a lesson, 200
000 cells a map; `tests/commands/test_untrusted.py` has one test for each. `report.json` holds
`inputs`, `bore` and `made_with`: `tests/whole/test_reproducible.py` writes the scene again from
them and gets the same bytes. `python tests/reference/make_features.py` makes the table of what
every scene sounds like again and says what moved.
"""
