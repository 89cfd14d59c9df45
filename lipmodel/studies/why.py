"""Why a note is sharp, flat, weak or impossible on an instrument, and what helps."""

from dataclasses import dataclass, replace

from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.lips import PLAYERS
from lipmodel.player import fingering
from lipmodel.player.cached import played_resonances
from lipmodel.player.fingering import PEDAL, SEMITONES, Way
from lipmodel.player.fingering_options import Option, option, options, ways
from lipmodel.player.held_note import held_note
from lipmodel.player.instrument import Instrument
from lipmodel.player.resting import lips_of
from lipmodel.player.tuning import resonance_of
from lipmodel.player.tuning_slide import IN_TUNE, Tuned
from lipmodel.studies.causes import ordinal, published, published_sentence, reasons, sentences_of
from lipmodel.studies.chart import range_words, valve_words
from lipmodel.studies.remedies import Remedy, best, remedies, with_hand
from lipmodel.studies.tendencies import PRACTICE, tendency
from lipmodel.units import KPA, cents, note_frequency, sharp_or_flat

WEAK = 1 / 3  # of the strongest resonance
HARD = 10.0  # kPa: a note that needs more is told to need it
BREATH = 25.0  # kPa, the most players blow (N. H. Fletcher and A. Tarnopolsky, JASA 105, 1999)
NEIGHBOURS = 24  # semitones to either side, in which the nearest note is looked for


@dataclass(frozen=True)
class Question:
    """A sounding semitone number on an instrument, valves or slide position asked for (None: the
    usual ones), and what was done to its tuning slide."""

    instrument: Instrument
    semitone: int
    valves: str | None = None
    position: float | None = None
    tuned: Tuned | None = None

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


def why(question: Question, say=lambda words: None) -> Explanation:
    """The answer: note, valves, cents with no slide pulled, reasons that add up to them,
    remedies with what they move, all in sentences.  cents is None for an impossible note.  `say`
    is told what is played."""
    instrument, semitone = question.instrument, question.semitone
    known = options(instrument, semitone, say)
    chosen = _chosen(question, known)
    if chosen is None:
        return Explanation(_impossible(question, known, say), None, None)
    if chosen.pedal is not None:
        return Explanation(_pedal(question, chosen), None, None)
    tuned = question.tuned or Tuned(instrument.rest, 0.0, 0.0)
    causes = reasons(instrument, chosen, semitone, tuned.rest)
    whole = tuned.cents + sum(r.cents for r in causes if r.cause == "temperature")
    helps = remedies(instrument, chosen, known, semitone, whole)
    players = tendency(instrument, chosen.way)
    speech = _speech(instrument, chosen, semitone)
    document = _document(question, chosen.way.valves, chosen.cents_unpulled)
    document["slide_position"] = chosen.way.slide_position
    document["partial"] = chosen.way.partial
    document["resonance_hz"] = chosen.resonance.frequency
    document["needs_kpa"], document["strength"] = speech
    document["rest_cents"], document["rests"] = chosen.rest, dict(chosen.rests)
    document["tendency"] = players and players.row(chosen.cents_unpulled)
    document["published"] = published(instrument, chosen)
    document["reasons"] = [{"cause": r.cause, "cents": r.cents} for r in causes]
    document["remedies"] = [r.row() for r in helps]
    if _effort(*speech):
        document["remedies"].append(_more_breath(speech[0], chosen.cents_unpulled))
    document["sentences"] = [
        _headline(question, chosen), *_of_slide(tuned), *sentences_of(causes), *_effort(*speech),
        *_compared(document), *_of_players(players, chosen),
        *_of_its_end(instrument, chosen), *_told(helps), *_left(helps, chosen),
    ]  # fmt: skip
    return Explanation(document, chosen, best(helps))


def _chosen(question: Question, known: list[Option]) -> Option | None:
    """The option for the valves or the position asked for, else the usual one."""
    if question.valves is None and question.position is None:
        return known[0] if known else None
    if question.position is not None:
        near = [w for w in ways(question.instrument, question.semitone)
                if abs(w.slide_position - question.position) <= 0.5]  # fmt: skip
        held = [Way(w.valves, question.position, w.partial) for w in near[:1]]
        return option(question.instrument, held[0], question.semitone, True) if held else None
    for way in ways(question.instrument, question.semitone):
        if way.valves == question.valves:
            return option(question.instrument, way, question.semitone, True)
    return None


def _document(question: Question, valves, off) -> dict:
    return {
        "what": question.instrument.name,
        "celsius": question.instrument.celsius,
        "tuning_slide_pull_mm": question.instrument.tuning_slide_pull_mm,
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
        slides = ", no valve slide pulled" if one.way.valves != "0" else ""
    called = question.called()
    return (
        f"{called[0].upper()}{called[1:]} on {question.instrument.name}, {_held(question, one)}"
        f"{slides}, {ordinal(one.way.partial)} partial: {_rests(one)}."
    )


def _rests(one: Option) -> str:
    if "mf" not in one.rests:
        return f"about {sharp_or_flat(one.cents_unpulled)}; at mf nothing holds it"
    span = range_words({"cents": one.cents_unpulled, "rests": one.rests})
    return f"rests {sharp_or_flat(one.cents_unpulled)} at mf{span and '; '}{span}"


def _of_slide(tuned: Tuned) -> list[str]:
    return [tuned.words] if tuned.words else []


def _of_players(players, one: Option) -> list[str]:
    """What they find; where it is published that is told already."""
    told = players and players.source == PRACTICE
    return [players.sentence(one.cents_unpulled)] if told else []


def _of_its_end(instrument: Instrument, one: Option) -> list[str]:
    """That the playing slide goes no further where it would have to."""
    if one.tuned_position is None or abs(one.cents) < IN_TUNE:
        return []
    if one.cents < 0:
        return ["At position 1 the slide is as far in as it goes."]
    return [f"In the model the slide ends at position {one.tuned_position:.3g}."]


def _left(helps: list[Remedy], one: Option) -> list[str]:
    if helps or abs(one.cents_unpulled) >= IN_TUNE:
        return []
    return [f"In tune within {IN_TUNE:.0f} cents: leave it."]


def _pedal(question: Question, one: Option) -> dict:
    """The document of a pedal note: no resonance holds it, so there is no resting pitch."""
    document = _document(question, one.way.valves, None)
    document["slide_position"], document["partial"] = one.way.slide_position, PEDAL
    called, speaks = question.called(), one.pedal
    document["pedal"] = {"from": speaks.dynamic, "lock": speaks.lock}
    document["sentences"] = [
        f"{called[0].upper()}{called[1:]} on {question.instrument.name}, {_held(question, one)}: "
        "a pedal note. Little holds it: the lips set its pitch, and the ear.",
        f"In the model it speaks from {speaks.dynamic} on.",
    ]
    return document


def _speech(instrument: Instrument, one: Option, semitone: int) -> tuple[float, float]:
    """(kPa at which the note begins, its resonance over the strongest of the series)."""
    per_hz = PLAYERS[instrument.spec.player].threshold_per_hz
    found = played_resonances(instrument.bore(one.way), instrument.air)
    strongest = max(r.magnitude for r in found)
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


def _impossible(question: Question, known: list[Option], say) -> dict:
    """The document of a note that is not there, or not with these valves."""
    document = _document(question, question.valves, None)
    called = question.called()
    start = f"{called[0].upper()}{called[1:]} on {question.instrument.name}"
    if question.position is not None and known:
        held = " and ".join(f"{o.way.slide_position:g}" for o in known)
        there = f"impossible at position {question.position:g}; it lies at {held}"
        document["sentences"] = [f"{start}: {there}."]
        document["remedies"] = [_played(o, None) for o in known[:2]]
    elif question.valves is not None and known:
        near, off = _nearest_pitch(question)
        opens = question.valves == "0"
        lowers = "" if opens else f", lowering the open notes by {_lowered(question)}"
        gives = f"; the nearest it plays is {question.called(near)}" if near is not None else ""
        document["sentences"] = [f"{start}: impossible {_with(question.valves)}{lowers}{gives}."]
        document["remedies"] = [_played(o, off) for o in known[:2]]
    else:
        document["sentences"] = [f"{start}: impossible. {_no_way(question)}"]
        document["remedies"] = _neighbours(question, say)
    document["sentences"] += [f"What helps: {r['do']}." for r in document["remedies"]]
    return document


def _played(one: Option, off: float | None) -> dict:
    """The remedy of playing it as `one` holds it; `off`: cents of what was played instead."""
    left = one.cents_unpulled or 0.0
    how = _with(one.way.valves)
    if one.tuned_position is not None:
        how = f"at position {one.way.slide_position:g}"
    told = "a pedal note" if one.pedal else sharp_or_flat(left)
    moved = 0.0 if off is None else left - off
    return {"do": f"play it {how} ({told})", "cents": moved, "leaves_cents": left}


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
            return f"{sentence}; only pedal notes lie there, and the lips do not find this one."
        return f"{sentence}."
    if semitone > base + max(SEMITONES.values()):
        return "It lies above the 16th partial, the highest that is told here."
    if slide:
        return "The slide ends before the position that it needs."
    if ways(instrument, semitone):
        return "The bore has no resonance there that could hold it."
    return "No combination of these valves lowers a partial far enough to reach it."


def _neighbours(question: Question, say) -> list[dict]:
    """The nearest notes below and above that the instrument has."""
    rows = []
    for step in (-1, 1):
        for distance in range(1, NEIGHBOURS + 1):
            semitone = question.semitone + step * distance
            if not 0 <= semitone <= 127:
                break
            known = options(question.instrument, semitone, say)
            if known:
                off = known[0].cents_unpulled or 0.0
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
    lips = lips_of(instrument)
    target = note_frequency(question.semitone, instrument.a4)
    rests = target * 2 ** (one.cents_unpulled / 1200)
    made = {"as_held": held_note(instrument.bore(one.way), instrument.air, lips, rests)}
    if remedy is not None:
        if remedy.tuning_slide_pull_mm is not None:
            instrument = replace(instrument, tuning_slide_pull_mm=remedy.tuning_slide_pull_mm)
        if remedy.hand_open_percent is not None:
            instrument = with_hand(instrument, remedy.hand_open_percent)
        bore = instrument.bore(remedy.way, **dict(remedy.pulls))
        pitch = target * 2 ** ((remedy.leaves_cents - remedy.lipped) / 1200)
        made["remedy"] = held_note(bore, instrument.air, lips, pitch, remedy.lipped)
    silent = [key for key, samples in made.items() if samples is None]
    if silent:
        answer.document["sentences"].append(
            "The model's lips do not find this note at mezzo-forte: a sound is missing."
        )
    return {key: samples for key, samples in made.items() if key not in silent}
