"""lipmodel why"""

from pathlib import Path

from lipmodel.commands.progress import bar
from lipmodel.files import audio, folders, tables
from lipmodel.output.results.instruments import Explanation, why
from lipmodel.player.held_note import RATE
from lipmodel.player.warm_up import warm_up
from lipmodel.studies.why import both_sounds


def run(args) -> int:
    with bar(form="{desc}", delay=1.0) as progress:
        warm_up(progress.say)
        found = why(args.note, args.what, args.valves, args.celsius, args.position, progress)
    if args.out:
        _write(Path(args.out), found)
    if args.json:
        print(tables.json_text(found.to_dict()), end="")
        return 0
    for sentence in found.sentences:
        print(sentence)
    if args.out:
        print(f"Wrote {Path(args.out) / 'why.html'} and why.json beside it")
    return 0


def _write(folder: Path, found: Explanation):
    from lipmodel.output.pages.why import why_page

    sounds = both_sounds(found.question, found.answer)
    remedy = found.answer.remedy.do if "remedy" in sounds else ""
    flac = {key: audio.sound_bytes(samples, RATE, "flac") for key, samples in sounds.items()}
    page = why_page(found.to_dict(), flac, "audio/flac", remedy)
    with folders.folder_written(folder) as work:
        for key, samples in sounds.items():
            (work / f"{key}.wav").write_bytes(audio.sound_bytes(samples, RATE))
        (work / "why.html").write_text(page, encoding="utf-8")
        (work / "why.json").write_text(tables.json_text(found.to_dict()), encoding="utf-8")
