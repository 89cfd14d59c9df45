"""lipmodel why"""

import sys
from dataclasses import replace
from pathlib import Path

from lipmodel import files
from lipmodel.because import Answer, Question, why
from lipmodel.borefile import parse_valves, valve_set
from lipmodel.build import player_lips
from lipmodel.errors import SceneError
from lipmodel.holding import RATE, held_note
from lipmodel.lips import PLAYERS
from lipmodel.reading import shown
from lipmodel.reasons import REFERENCE_C
from lipmodel.rendering import warm
from lipmodel.units import note_frequency, parse_note
from lipmodel.what import What, find


def run(args) -> int:
    what = find(args.what, args.celsius)
    question = _question(args, what)
    answer = why(question)
    if args.out:
        _write(Path(args.out), what, question, answer)
    if args.json:
        print(files.json_text(answer.document), end="")
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
        raise SceneError(f"NOTE {shown(args.note)}: {error}") from error
    if what.scene is None or what.scene.notes.read_as == "written":
        number += what.spec.transposition_semitones or 0
    if not 0 <= number <= 127:
        raise SceneError(f"NOTE {shown(args.note)}: expected a note that sounds from C-1 to G9")
    # named as it was asked for
    sharp, flat = set("#♯") & set(args.note), set("b♭") & set(args.note)
    spelling = "sharps" if sharp else "flats" if flat else what.spelling
    at_22 = what.setup
    if what.celsius != REFERENCE_C:
        at_22 = find(args.what, REFERENCE_C).setup
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


def _write(folder: Path, what: What, question: Question, answer: Answer):
    from lipmodel.pages.why import why_page

    warm(lambda text: print(text, file=sys.stderr))
    sounds = _sounds(what, question, answer)
    remedy = answer.remedy.do if "remedy" in sounds else ""
    flac = {key: files.sound_bytes(samples, RATE, "flac") for key, samples in sounds.items()}
    page = why_page(answer.document, flac, "audio/flac", remedy)
    with files.folder_written(folder) as work:
        for key, samples in sounds.items():
            (work / f"{key}.wav").write_bytes(files.sound_bytes(samples, RATE))
        (work / "why.html").write_text(page, encoding="utf-8")
        (work / "why.json").write_text(files.json_text(answer.document), encoding="utf-8")


def _sounds(what: What, question: Question, answer: Answer) -> dict:
    """Samples by name: the note as held, and with the best remedy; what the lips cannot play is
    left out and told."""
    one, remedy, setup = answer.option, answer.remedy, question.setup
    if one is None:
        return {}
    lips = player_lips(what.scene, what.spec) if what.scene else PLAYERS[what.spec.player]
    target = note_frequency(question.semitone, setup.a4)
    rests = target * 2 ** (one.cents_unpulled / 1200)
    made = {"as_held": held_note(setup.bore(one.way), setup.air, lips, rests)}
    if remedy is not None:
        if remedy.tuning_slide_pull_mm is not None:
            setup = replace(setup, tuning_slide_pull_mm=remedy.tuning_slide_pull_mm)
        bore = setup.bore(remedy.way, **dict(remedy.pulls))
        pitch = target * 2 ** ((remedy.leaves_cents - remedy.lipped) / 1200)
        made["remedy"] = held_note(bore, setup.air, lips, pitch, remedy.lipped)
    silent = [key for key, samples in made.items() if samples is None]
    if silent:
        answer.document["sentences"].append(
            "The model's lips do not find this note at mezzo-forte: a sound is missing."
        )
    return {key: samples for key, samples in made.items() if key not in silent}
