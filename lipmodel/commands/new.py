"""lipmodel new"""

import os
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.scene import starters


def run(args) -> int:
    path = Path(args.file)
    named = starters.files(args.kind, path.stem).items()
    # the file itself has the name that it was given, whatever it ends in
    texts = {path if i == 0 else path.with_name(name): t for i, (name, t) in enumerate(named)}
    for one in texts:
        if os.path.lexists(one):  # a name too long for the system is told by the writer
            raise SceneError(f"{one}: exists already; expected the name of a new file")
    written = []
    try:
        for one, text in texts.items():
            folders.write_bytes(one, text.encode())
            written.append(one)
    except SceneError:
        for one in written:
            one.unlink(missing_ok=True)
        raise
    command = args.kind if args.kind in ("compare", "lesson") else "render"
    command = "check" if args.kind == "bore" else command
    scenes = [str(one) for one in written[1:]]
    beside = f" with {', '.join(scenes[:-1])} and {scenes[-1]}" if scenes else ""
    print(f"Wrote {path}{beside}. Next: lipmodel {command} {path}")
    return 0
