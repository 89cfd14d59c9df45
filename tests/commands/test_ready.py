"""`lipmodel ready` checks itself."""

import re

from lipmodel.commands.main import main


def test_ready_checks_itself(capsys):
    assert main(["ready"]) == 0
    told = capsys.readouterr()
    assert told.out.endswith("Ready.\n")
    assert re.search(
        r"Self-check: G4 \(written\) at 34[89]\.\d\d Hz, [0-2]\.\d cents off", told.out
    )
