"""lipmodel bundle"""

from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import bar
from lipmodel.files import folders
from lipmodel.output.background import BackgroundWriter


def run(args) -> int:
    archive = target.file(args.out, f"{Path(args.scenes[0]).stem}.zip", ".zip")
    with BackgroundWriter() as writer:
        from lipmodel.output.bundle import bundle
        from lipmodel.output.render import STAGES
        from lipmodel.scene.scene import read_scene

        steps = STAGES * sum(len(read_scene(path).variants) for path in args.scenes)
        with bar(steps) as progress:
            data = bundle(args.scenes, writer, progress)
    folders.write_bytes(archive, data)
    print(f"Wrote {archive}: {len(data) / 1e6:.1f} MB. To repeat it: unzip it, python rerun.py")
    return 0
