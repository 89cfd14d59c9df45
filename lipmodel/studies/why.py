"""Why a note is sharp, flat, weak or impossible on an instrument, and what helps."""

from dataclasses import dataclass, replace

from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.lips import PLAYERS
from lipmodel.player import fingering
from lipmodel.player.build import player_lips
from lipmodel.player.cached import kept_resonances
from lipmodel.player.fingering import SEMITONES
from lipmodel.player.fingering_options import Option, option, options, ways
from lipmodel.player.held_note import held_note
from lipmodel.player.instrument import Instrument
from lipmodel.player.tuning import resonance_of
from lipmodel.studies.causes import ordinal, published, published_sentence, reasons, sentences_of
from lipmodel.studies.chart import valve_words
from lipmodel.studies.remedies import Remedy, best, remedies
from lipmodel.units import KPA, cents, note_frequency, sharp_or_flat

WEAK = 1 / 3  # of the strongest resonance
HARD = 10.0  # kPa: a note that needs more is told to need it
BREATH = 25.0  # kPa, the most players blow (N. H. Fletcher and A. Tarnopolsky, JASA 105, 1999)
NEIGHBOURS = 24  # semitones to either side, in which the nearest note is looked for


@dataclass(frozen=True)
class Question:
    """A sounding semitone number on an instrument, valves asked for (None: the usual ones)."""

    instrument: Instrument
    semitone: int
    valves: str | None = None

    def called(self, semitone: int | None = None) -> str:
        """ "written D4 (sounding C4)", or the one name where both are alike."""
        names = self.instrument.names(self.semitone if semitone is None else semitone)
        if names["written"] == names["sounding"]:
            return names["written"]
        return f"written {names['written']} (sounding {names['sounding']})"


@dataclass(frozen=True)
class Explanation:
    """The document for JSON, the option that was explained, and the best remedy."""

    document: dict
    option: Option | None
    remedy: Remedy | None


def why(question: Question) -> Explanation:
    """The answer: note, valves, cents with no slide pulled, reasons that add up to them,
    remedies with what they move, all in sentences.  cents is None for an impossible note."""
    instrument, semitone = question.instrument, question.semitone
    known = options(instrument, semitone)
    chosen = _chosen(question, known)
    if chosen is None:
        return Explanation(_impossible(question, known), None, None)
    causes = reasons(instrument, chosen, semitone)
    helps = remedies(instrument, chosen, known, semitone)
    speech = _speech(instrument, chosen, semitone)
    document = _document(question, chosen.way.valves, chosen.cents_unpulled)
    document["slide_position"] = chosen.way.slide_position
    document["partial"] = chosen.way.partial
    document["resonance_hz"] = chosen.resonance.frequency
    document["needs_kpa"], document["strength"] = speech
    document["published"] = published(instrument, chosen)
    document["reasons"] = [{"cause": r.cause, "cents": r.cents} for r in causes]
    document["remedies"] = [r.row() for r in helps]
    if _effort(*speech):
        document["remedies"].append(_more_breath(speech[0], chosen.cents_unpulled))
    document["sentences"] = [
        _headline(question, chosen), *sentences_of(causes), *_effort(*speech),
        *_compared(document), *_told(helps),
    ]  # fmt: skip
    return Explanation(document, chosen, best(helps))


def _chosen(question: Question, known: list[Option]) -> Option | None:
    """The option for the valves asked for, else the usual one."""
    if question.valves is None:
        return known[0] if known else None
    for way in ways(question.instrument, question.semitone):
        if way.valves == question.valves:
            return option(question.instrument, way, question.semitone)
    return None


def _document(question: Question, valves, off) -> dict:
    return {
        "what": question.instrument.name,
        "celsius": question.instrument.celsius,
        "note": question.instrument.names(question.semitone),
        "valves": valves,
        "cents": off,
        "reasons": [],
        "remedies": [],
        "sentences": [],
    }


def _held(question: Question, one: Option) -> str:
    if one.tuned_position is not None:
        return f"position {one.way.slide_position:g}"
    return valve_words(one.way.valves)


def _headline(question: Question, one: Option) -> str:
    slides = ""
    if one.tuned_position is None and len(valve_numbers(question.instrument.spec)):
        slides = " with no slide pulled" if one.way.valves != "0" else ""
    called = question.called()
    return (
        f"{called[0].upper()}{called[1:]} on {question.instrument.name}, {_held(question, one)}, "
        f"{ordinal(one.way.partial)} partial: {sharp_or_flat(one.cents_unpulled)}{slides}."
    )


def _speech(instrument: Instrument, one: Option, semitone: int) -> tuple[float, float]:
    """(kPa at which the note begins, its resonance over the strongest of the series)."""
    per_hz = PLAYERS[instrument.spec.player].threshold_per_hz
    strongest = max(r.magnitude for r in kept_resonances(instrument.bore(one.way), instrument.air))
    frequency = note_frequency(semitone, instrument.a4)
    return per_hz * frequency / KPA, one.resonance.magnitude / strongest


def _effort(needs: float, strength: float) -> list[str]:
    sentences = []
    if strength < WEAK:
        sentences.append(
            f"Its resonance is weak, {100 * strength:.0f} % of the strongest: the note is hard to "
            "hold and easily slips to its neighbour."
        )
    if needs > BREATH:
        sentences.append(f"It would need {needs:.0f} kPa to speak: out of a player's breath.")
    elif needs > HARD:
        sentences.append(f"It needs at least {needs:.0f} kPa to speak.")
    return sentences


def _more_breath(needs: float, off: float) -> dict:
    return {"do": f"more breath: at least {needs:.1f} kPa", "cents": 0.0, "leaves_cents": off}


def _compared(document) -> list[str]:
    published = document["published"]
    return [published_sentence(published, document["cents"])] if published else []


def _told(helps: list[Remedy]) -> list[str]:
    return [
        f"What helps: {r.do}: {_moved(r.cents)}, then {sharp_or_flat(r.leaves_cents)}."
        for r in helps
    ]


def _moved(value: float) -> str:
    return sharp_or_flat(value).replace("sharp", "up").replace("flat", "down")


def _impossible(question: Question, known: list[Option]) -> dict:
    """The document of a note that is not there, or not with these valves."""
    document = _document(question, question.valves, None)
    called = question.called()
    start = f"{called[0].upper()}{called[1:]} on {question.instrument.name}"
    if question.valves is not None and known:
        near, off = _nearest_pitch(question)
        opens = question.valves == "0"
        lowers = "" if opens else f", lowering the open notes by {_lowered(question)}"
        gives = f"; the nearest it plays is {question.called(near)}" if near is not None else ""
        document["sentences"] = [f"{start}: impossible {_with(question.valves)}{lowers}{gives}."]
        document["remedies"] = [
            {"do": f"play it {_with(o.way.valves)} ({sharp_or_flat(o.cents_unpulled)})",
             "cents": o.cents_unpulled - off, "leaves_cents": o.cents_unpulled}
            for o in known[:2]
        ]  # fmt: skip
    else:
        document["sentences"] = [f"{start}: impossible. {_no_way(question)}"]
        document["remedies"] = _neighbours(question)
    document["sentences"] += [f"What helps: {r['do']}." for r in document["remedies"]]
    return document


def _with(valves: str) -> str:
    return "open" if valves == "0" else f"with {valve_words(valves)}"


def _lowered(question: Question) -> str:
    number = dict(fingering.combinations_of(question.instrument.spec))[question.valves]
    return f"{number} semitone{'' if number == 1 else 's'}"


def _nearest_pitch(question: Question) -> tuple[int | None, float]:
    """(semitone number, its cents from the note asked for) nearest of what the valves play."""
    for distance in range(1, 49):
        for semitone in (question.semitone - distance, question.semitone + distance):
            for way in ways(question.instrument, semitone):
                resonance = resonance_of(question.instrument, way, semitone)
                if way.valves == question.valves and resonance is not None:
                    target = note_frequency(question.semitone, question.instrument.a4)
                    return semitone, cents(resonance.frequency, target) + question.instrument.rest
    return None, 0.0


def _no_way(question: Question) -> str:
    """Why no series has the note."""
    instrument, semitone = question.instrument, question.semitone
    spec, slide = instrument.spec, has_mark(instrument.spec, "slide")
    if not (valve_numbers(spec) or slide):
        return "There are no valves and no slide: only the natural notes are there."
    base, held_as = fingering.fundamental(spec), fingering.combinations_of(spec)
    lowest_by = 6 if slide else held_as[-1][1]
    lowest = base + SEMITONES[2] - lowest_by
    how = "position 7" if slide else valve_words(held_as[-1][0])
    if semitone < lowest:
        sentence = f"It lies below the lowest note, {question.called(lowest)} with {how}"
        if base - lowest_by <= semitone <= base:
            return f"{sentence}; only pedal notes, on the first partial, lie there."
        return f"{sentence}."
    if semitone > base + max(SEMITONES.values()):
        return "It lies above the 12th partial, the highest that players use."
    if slide:
        return "The slide ends before the position that it needs."
    return "No combination of these valves lowers a partial far enough to reach it."


def _neighbours(question: Question) -> list[dict]:
    """The nearest notes below and above that the instrument has."""
    rows = []
    for step in (-1, 1):
        for distance in range(1, NEIGHBOURS + 1):
            semitone = question.semitone + step * distance
            if not 0 <= semitone <= 127:
                break
            known = options(question.instrument, semitone)
            if known:
                off = known[0].cents_unpulled
                do = f"play {question.called(semitone)} instead, {_held(question, known[0])}"
                moved = 100.0 * step * distance + off
                rows.append({"do": do, "cents": moved, "leaves_cents": off})
                break
    return rows


def both_sounds(question: Question, answer: Explanation) -> dict:
    """Samples by name: the note as held, and with the best remedy; what the lips cannot play is
    left out and told."""
    one, remedy, instrument = answer.option, answer.remedy, question.instrument
    if one is None:
        return {}
    scene, spec = instrument.scene, instrument.spec
    lips = player_lips(scene, spec) if scene else PLAYERS[spec.player]
    target = note_frequency(question.semitone, instrument.a4)
    rests = target * 2 ** (one.cents_unpulled / 1200)
    made = {"as_held": held_note(instrument.bore(one.way), instrument.air, lips, rests)}
    if remedy is not None:
        if remedy.tuning_slide_pull_mm is not None:
            instrument = replace(instrument, tuning_slide_pull_mm=remedy.tuning_slide_pull_mm)
        bore = instrument.bore(remedy.way, **dict(remedy.pulls))
        pitch = target * 2 ** ((remedy.leaves_cents - remedy.lipped) / 1200)
        made["remedy"] = held_note(bore, instrument.air, lips, pitch, remedy.lipped)
    silent = [key for key, samples in made.items() if samples is None]
    if silent:
        answer.document["sentences"].append(
            "The model's lips do not find this note at mezzo-forte: a sound is missing."
        )
    return {key: samples for key, samples in made.items() if key not in silent}
