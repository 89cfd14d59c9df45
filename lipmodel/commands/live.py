"""lipmodel live"""

import webbrowser
from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import bar
from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.files.atomic import scratch

PLAIN = '[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 8.0\ntension_hz = 420.0\n'


def run(args) -> int:
    page_file = target.file(args.out, "live.html", ".html", ".htm")
    from lipmodel.bore import instruments
    from lipmodel.output.live import live_set
    from lipmodel.output.pages.live.page import live_page
    from lipmodel.output.pages.live.words import WORDS
    from lipmodel.scene.scene import read_scene

    for name in args.tubes or ():
        if name not in instruments.names():
            raise SceneError(f"--tubes {name}: {instruments.unknown(name, instruments.names())}")
    with scratch() as folder:
        path = args.scene
        if path is None:
            path = Path(folder) / "live.toml"
            path.write_text(PLAIN, encoding="utf-8")
        scene = read_scene(path)
        with bar(form="{desc}", delay=1.0) as progress:
            found = live_set(scene, progress.step, args.tubes)
    data = live_page(scene.title or WORDS["title"], found).encode()
    folders.write_bytes(page_file, data)
    print(f"Wrote {page_file}: {len(found['choices'])} tubes, {len(data) / 1e6:.2f} MB")
    if len(found["rates"]) == 1:
        print("The bore is long: the page plays it at half the rate, 24 kHz.")
    if args.open:
        webbrowser.open(page_file.resolve().as_uri())
    return 0
