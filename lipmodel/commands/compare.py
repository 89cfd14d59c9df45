"""lipmodel compare"""

from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import bar
from lipmodel.errors import SceneError
from lipmodel.output.background import BackgroundWriter


def run(args) -> int:
    if args.read:
        return _read(args)
    with BackgroundWriter() as writer:
        return _run(args, writer)


def _read(args) -> int:
    from lipmodel.studies.blind_results import KIND, ROOM, read_sessions, result_files, sentences
    from lipmodel.studies.blind_room import read_room

    if args.hold or args.out:
        raise SceneError("--read: expected files of results and no other option")
    found = result_files(args.files)
    rooms = [read_room(path) for path in found[ROOM]]
    told = sentences(read_sessions(found[KIND])) if found[KIND] else []
    for line in [*told, *(room.sentence for room in rooms)]:
        print(line)
    return 0


def _run(args, writer) -> int:
    from lipmodel.files.folders import refuse_to_replace
    from lipmodel.output.compare import compare, progress_steps, write

    place = target.folder(args.out, f"compare-{Path(args.files[0]).stem}")
    total = progress_steps(args.files)
    refuse_to_replace(place)
    with bar(total) as progress:
        made = compare(args.files, args.hold, writer, progress)
        write(made, place)
    _tell(made["document"], place)
    return 0


def _tell(document: dict, place: Path):
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
    print(f"Open {place / 'listen.html'}; to listen without knowing, {place / 'blind.html'}")
