"""lipmodel compare"""

import sys
from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.output.background import BackgroundWriter


def run(args) -> int:
    if args.read:
        return _read(args)
    with BackgroundWriter() as studio:
        return _run(args, studio)


def _read(args) -> int:
    from lipmodel.studies.blind_results import read_sessions, sentences

    if args.hold or args.out:
        raise SceneError("--read: expected files of results and no other option")
    for line in sentences(read_sessions(args.files)):
        print(line)
    return 0


def _run(args, studio) -> int:
    from tqdm import tqdm

    from lipmodel.files.folders import refuse_to_replace
    from lipmodel.output.compare import compare, progress_steps, write

    target = Path(args.out or Path("renders") / f"compare-{Path(args.files[0]).stem}")
    total = progress_steps(args.files)
    refuse_to_replace(target)
    with tqdm(total=total, disable=not sys.stderr.isatty(), leave=False, file=sys.stderr,
              bar_format="{desc} {bar} {n_fmt}/{total_fmt}") as bar:  # fmt: skip

        def step(words):
            bar.set_description_str(words)
            bar.update()

        made = compare(
            args.files, args.hold, studio, lambda text: tqdm.write(text, file=sys.stderr), step
        )
        write(made, target)
    _tell(made["document"], target)
    return 0


def _tell(document: dict, target: Path):
    print(f"{document['title']}: {document['sentences'][0]}")
    for number, row in enumerate(document["sounds"], 1):
        print(f"{number}. {row['name']}")
        if number > 1:
            print(f"   Changed: {'; '.join(row['changed']) or 'nothing'}.")
        for words in row["adapted"]:
            print(f"   The player: {words}.")
        for sentence in row["differs"]:
            print(f"   {sentence}")
    for sentence in document["sentences"][1:]:
        print(sentence)
    print(f"Open {target / 'listen.html'}; to listen without knowing, {target / 'blind.html'}")
