"""Charts, series and explanations of an instrument as results: `lipmodel.chart`,
`lipmodel.series` and `lipmodel.why`."""

from dataclasses import replace
from functools import partial

import numpy as np

from lipmodel.acoustics.impedance import TABLE, impedance
from lipmodel.bore.valves import has_mark, parse_valves, title_of, valve_set
from lipmodel.errors import SceneError
from lipmodel.files.schema import quoted
from lipmodel.output.results.arguments import wrong
from lipmodel.output.results.result import Result
from lipmodel.player.instrument import Instrument, load_instrument
from lipmodel.player.tuning_slide import tuned
from lipmodel.studies import chart as charts
from lipmodel.studies import why as explaining
from lipmodel.studies.series import (
    one_series,
    series_asked,
    series_bore,
    series_document,
    sharpness,
)
from lipmodel.system.progress import telling
from lipmodel.units import parse_note, sharp_or_flat

READ_AS = ("", "written", "sounding")


class Chart(Result):
    """`notes`, the lowest first, each with its `options`; `chart[name]` is the note of a written
    (else a sounding) name."""

    __slots__ = ("instrument",)

    def __getitem__(self, key):
        if key in self._data:
            return self._data[key]
        for which in ("written", "sounding"):
            for note in self.notes:
                if note[which] == key:
                    return note
        known = f"{self.notes[0].written} to {self.notes[-1].written}" if self.notes else "none"
        raise KeyError(f"{key}: not in this chart; it has {known}")


class Series(Result):
    """`series`: one a valve combination or slide position, each with its `resonances`;
    `brassiness`; `air`."""

    __slots__ = ("bores", "instrument")


class Explanation(Result):
    """`cents` with no slide pulled (None: impossible), `reasons` that add up to them, and
    `remedies`."""

    __slots__ = ("answer", "question")


def chart(what, celsius: float | None = None, progress=None) -> Chart:
    """Every note of an instrument with its fingerings or positions, and how sharp or flat it is.

    what: a built-in name, the path of a bore or scene file, a Scene or an Instrument; celsius:
    of the air, 22 where nothing else is said; progress: called with (done, total, words).  The
    tuning slide is first put where the open notes are in tune, unless a scene says where it is.
    Raises SceneError.

    >>> found = chart("bugle")
    >>> found["C4"].options[0].partial, round(found["C4"].options[0].cents)
    (2, 6)
    """
    progress = telling(progress)
    instrument, found = tuned(load_instrument(what, celsius), partial(progress.reach, 0, 0))
    document = charts.chart(instrument, found, progress.reach)
    told = [
        f"{note['written']}: {charts.how(one, document['slide'])}, {charts.gives(one)}."
        for note in document["notes"]
        for one in note["options"][:1]
    ]
    return _with(Chart(document, _chart_drawn, told), instrument=instrument)


def series(what, valves="all", celsius: float | None = None) -> Series:
    """The resonance series of an instrument.

    what: as in `chart`; valves: "all", or one combination such as "0" or "13"; celsius: of the
    air.  Raises SceneError.

    >>> found = series("trumpet", "0")
    >>> [round(r.frequency_hz) for r in found.series[0].resonances[:3]]
    [93, 230, 346]
    """
    instrument = load_instrument(what, celsius)
    bores = {held: series_bore(instrument, *held) for held in series_asked(instrument, valves)}
    rows = [one_series(instrument, *held, bore) for held, bore in bores.items()]
    sharpness(instrument, rows)
    document = series_document(instrument, rows, bores)
    told = [
        f"{held_words(one)}: {len(one['resonances'])} resonances, the series "
        f"{sharp_or_flat(one.get('sharp_cents') or 0.0)}."
        for one in rows
    ]
    return _with(Series(document, _series_drawn, told), instrument=instrument, bores=bores)


def why(
    note: str,
    what,
    valves=None,
    celsius: float | None = None,
    position: float | None = None,
    progress=None,
) -> Explanation:
    """Why a note is sharp, flat, weak or impossible, and what helps.

    note: a written name such as "D4" (sounding where a scene says so), "written:D4" or
    "sounding:C4"; what: as in `chart`, its tuning slide set as there; valves: such as "13", or
    position: of the slide, 1 to 7, the usual ones where left out; celsius: of the air;
    progress: called with (done, total, words).  Raises TypeError and SceneError.

    >>> print(why("B4", "bugle").sentences[0])
    Written B4 (sounding A4) on Harbour bugle: impossible. There are no valves and no slide: only \
the natural notes are there.
    """
    if not isinstance(note, str):
        raise wrong("why", "note", note, "the name of a note", 'write it as "D4"')
    say = partial(telling(progress).reach, 0, 0)
    instrument, found = tuned(load_instrument(what, celsius), say)
    question = replace(question_of(note, instrument, valves, position), tuned=found)
    answer = explaining.why(question, say)
    result = Explanation(answer.document, _why_drawn, answer.document["sentences"])
    return _with(result, question=question, answer=answer)


def question_of(
    note: str, instrument: Instrument, valves=None, position=None
) -> explaining.Question:
    """The note as a question, named as it was asked for.  SceneError."""
    which, _, name = note.rpartition(":")
    if which not in READ_AS:
        raise SceneError(f'NOTE {quoted(note)}: expected "written:" or "sounding:" before the note')
    try:
        number = parse_note(name)
    except ValueError as error:
        raise SceneError(f"NOTE {quoted(note)}: {error}") from error
    scene = instrument.scene
    if (which or (scene.notes.read_as if scene else "written")) == "written":
        number += instrument.spec.transposition_semitones or 0
    if not 0 <= number <= 127:
        raise SceneError(f"NOTE {quoted(note)}: expected a note that sounds from C-1 to G9")
    sharp, flat = set("#♯") & set(name), set("b♭") & set(name)
    spelling = "sharps" if sharp else "flats" if flat else instrument.spelling
    held = None if valves is None else _valves(valves, instrument)
    place = None if position is None else _position(position, instrument)
    return explaining.Question(replace(instrument, spelling=spelling), number, held, place)


def held_words(one: dict) -> str:
    """How a series is held: "open", "valves 13", "slide position 3"."""
    if one["slide_position"] != 1:
        return f"slide position {one['slide_position']:g}"
    return "open" if one["valves"] == "0" else f"valves {one['valves']}"


def _valves(given, instrument: Instrument) -> str:
    try:
        valves = parse_valves(given)
        valve_set(instrument.spec, valves)
    except (ValueError, SceneError) as error:
        raise SceneError(f"--valves {given}: {error}") from error
    return valves


def _position(given, instrument: Instrument) -> float:
    if not has_mark(instrument.spec, "slide"):
        raise SceneError(f"--position {given:g}: {title_of(instrument.spec)} has no slide")
    if not 1 <= given <= 7:
        raise SceneError(f"--position {given:g}: expected a number from 1 to 7")
    return float(given)


def _with(result, **more):
    for name, value in more.items():
        object.__setattr__(result, name, value)
    return result


def _chart_drawn(result: Chart):
    from lipmodel.output.pictures.chart import chart_figure

    return chart_figure(result.to_dict())


def _why_drawn(result: Explanation):
    from lipmodel.output.pictures.why import why_figure

    return why_figure(result.to_dict(), result.question.called())


def _series_drawn(result: Series):
    return series_figure(result)


def series_figure(result: Series, measured=None):
    """The impedances of a series over each other; `measured`: (Hz, Pa s/m3) to lay over them."""
    from lipmodel.output.pictures.impedance import impedance_figure

    document, instrument = result.to_dict(), result.instrument
    curves = [
        (held_words(one), TABLE, np.abs(impedance(bore, instrument.air, TABLE)))
        for one, bore in zip(document["series"], result.bores.values(), strict=True)
    ]
    rows = document["series"][0]["resonances"] if len(curves) == 1 else []
    return impedance_figure(instrument.name, curves, rows, measured=measured)
