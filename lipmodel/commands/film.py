"""lipmodel film"""

import re
import sys
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files import folders
from lipmodel.output.background import BackgroundWriter


def run(args) -> int:
    target = Path(args.out or Path("renders") / f"{Path(args.scene).stem}.mp4")
    if target.suffix.lower() != ".mp4" or target.is_dir():
        raise SceneError(f"--out {target}: expected the name of a file that ends in .mp4")
    with BackgroundWriter() as studio:
        return _run(args, target, studio)


def _run(args, target: Path, studio) -> int:
    from tqdm import tqdm

    from lipmodel.output.film import encoder, film, progress_steps

    encoder()  # told before anything is played
    with tqdm(total=progress_steps(args.scene), disable=not sys.stderr.isatty(), leave=False,
              file=sys.stderr, bar_format="{desc} {bar} {remaining}") as bar:  # fmt: skip

        def step(words):
            bar.set_description_str(words)
            bar.update()

        data, report = film(
            args.scene, args.upright, say=lambda text: tqdm.write(text, file=sys.stderr),
            step=step, studio=studio,
        )  # fmt: skip
    folders.write_bytes(target, data)
    for sentence in report["sentences"]:
        print(re.sub(r" \(\w+\.png\)", "", sentence))  # pictures that are not kept
    size = "1080 x 1920" if args.upright else "1920 x 1080"
    print(f"Wrote {target}: {report['length_s']:g} s, {size}, {len(data) / 1e6:.1f} MB")
    return 0
