"""lipmodel film"""

import re
from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import TIME_LEFT, bar
from lipmodel.files import folders
from lipmodel.output.background import BackgroundWriter
from lipmodel.output.pages.care import cautions


def run(args) -> int:
    clip = target.file(args.out, f"{Path(args.scene).stem}.mp4", ".mp4")
    with BackgroundWriter() as writer:
        return _run(args, clip, writer)


def _run(args, clip: Path, writer) -> int:
    from lipmodel.output.film import encoder, film, progress_steps

    encoder()  # told before anything is played
    with bar(progress_steps(args.scene), TIME_LEFT) as progress:
        data, report = film(args.scene, args.upright, writer=writer, progress=progress)
    folders.write_bytes(clip, data)
    for sentence in report["sentences"]:
        print(re.sub(r" \(\w+\.png\)", "", sentence))  # pictures that are not kept
    for caution in cautions(report):
        print(caution)
    size = "1080 x 1920" if args.upright else "1920 x 1080"
    print(f"Wrote {clip}: {report['length_s']:g} s, {size}, {len(data) / 1e6:.1f} MB")
    return 0
