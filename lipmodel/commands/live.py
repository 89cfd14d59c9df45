"""lipmodel live"""

import sys
import webbrowser
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.files.atomic import scratch

PLAIN = '[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 8.0\ntension_hz = 420.0\n'


def run(args) -> int:
    target = Path(args.out or Path("renders") / "live.html")
    if target.suffix.lower() not in (".html", ".htm") or target.is_dir():
        raise SceneError(f"--out {target}: expected the name of a file that ends in .html")
    from tqdm import tqdm

    from lipmodel.output.live import live_set
    from lipmodel.output.pages.live.page import live_page
    from lipmodel.output.pages.live.words import WORDS
    from lipmodel.scene.scene import read_scene

    with scratch() as folder:
        path = args.scene
        if path is None:
            path = Path(folder) / "live.toml"
            path.write_text(PLAIN, encoding="utf-8")
        scene = read_scene(path)
        with tqdm(disable=not sys.stderr.isatty(), leave=False, file=sys.stderr,
                  bar_format="{desc} {n_fmt}") as bar:  # fmt: skip

            def step(words):
                bar.set_description_str(words)
                bar.update()

            found = live_set(scene, step)
    data = live_page(scene.title or WORDS["title"], found).encode()
    folders.write_bytes(target, data)
    print(f"Wrote {target}: {len(found['choices'])} tubes, {len(data) / 1e6:.2f} MB")
    if len(found["rates"]) == 1:
        print("The bore is long: the page plays it at half the rate, 24 kHz.")
    if args.open:
        webbrowser.open(target.resolve().as_uri())
    return 0
