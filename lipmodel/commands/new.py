"""lipmodel new"""

import os
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.scene import starters


def run(args) -> int:
    path = Path(args.file)
    if os.path.lexists(path):  # a name too long for the system is told by the writer
        raise SceneError(f"{path}: exists already; expected the name of a new file")
    folders.write_bytes(path, starters.text(args.kind).encode())
    following = {
        "bore": f"lipmodel check {path}",
        "compare": f"lipmodel compare {path}",
        "lesson": "write its scenes, each with lipmodel new",
    }
    print(f"Wrote {path}. Next: {following.get(args.kind, f'lipmodel render {path}')}")
    return 0
