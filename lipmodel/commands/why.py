"""lipmodel why"""

import sys
from pathlib import Path

from lipmodel.bore.valves import parse_valves, valve_set
from lipmodel.errors import SceneError
from lipmodel.files import audio, folders, tables
from lipmodel.files.schema import quoted
from lipmodel.player.held_note import RATE
from lipmodel.player.instrument import What, load_instrument
from lipmodel.player.warm_up import warm_up
from lipmodel.studies.causes import REFERENCE_C
from lipmodel.studies.why import Explanation, Question, both_sounds, why
from lipmodel.units import parse_note


def run(args) -> int:
    what = load_instrument(args.what, args.celsius)
    question = _question(args, what)
    answer = why(question)
    if args.out:
        _write(Path(args.out), what, question, answer)
    if args.json:
        print(tables.json_text(answer.document), end="")
        return 0
    for sentence in answer.document["sentences"]:
        print(sentence)
    if args.out:
        print(f"Wrote {Path(args.out) / 'why.html'} and why.json beside it")
    return 0


def _question(args, what: What) -> Question:
    try:
        number = parse_note(args.note)
    except ValueError as error:
        raise SceneError(f"NOTE {quoted(args.note)}: {error}") from error
    if what.scene is None or what.scene.notes.read_as == "written":
        number += what.spec.transposition_semitones or 0
    if not 0 <= number <= 127:
        raise SceneError(f"NOTE {quoted(args.note)}: expected a note that sounds from C-1 to G9")
    # named as it was asked for
    sharp, flat = set("#♯") & set(args.note), set("b♭") & set(args.note)
    spelling = "sharps" if sharp else "flats" if flat else what.spelling
    at_22 = what.setup
    if what.celsius != REFERENCE_C:
        at_22 = load_instrument(args.what, REFERENCE_C).setup
    valves = _valves(args.valves, what)
    return Question(what.name, what.setup, at_22, what.celsius, number, valves, spelling)


def _valves(given, what: What) -> str | None:
    if given is None:
        return None
    try:
        valves = parse_valves(given)
    except ValueError as error:
        raise SceneError(f"--valves {given}: {error}") from error
    try:
        valve_set(what.spec, valves)
    except SceneError as error:
        raise SceneError(f"--valves {given}: {error}") from error
    return valves


def _write(folder: Path, what: What, question: Question, answer: Explanation):
    from lipmodel.output.pages.why import why_page

    warm_up(lambda text: print(text, file=sys.stderr))
    sounds = both_sounds(what, question, answer)
    remedy = answer.remedy.do if "remedy" in sounds else ""
    flac = {key: audio.sound_bytes(samples, RATE, "flac") for key, samples in sounds.items()}
    page = why_page(answer.document, flac, "audio/flac", remedy)
    with folders.folder_written(folder) as work:
        for key, samples in sounds.items():
            (work / f"{key}.wav").write_bytes(audio.sound_bytes(samples, RATE))
        (work / "why.html").write_text(page, encoding="utf-8")
        (work / "why.json").write_text(tables.json_text(answer.document), encoding="utf-8")
