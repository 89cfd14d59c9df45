"""Notes of a scene that cannot be held: found from the bore file alone, before anything is built.

What cannot be is refused; what no usual fingering has is told: lips may still bend to it.
"""

from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.valves import has_mark, title_of, valve_numbers
from lipmodel.errors import SceneError
from lipmodel.player import fingering
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import scene_bore, shift
from lipmodel.player.fingering_options import ALL_SEMITONES, lowest_by, spoken
from lipmodel.player.plan import sounding_frequency
from lipmodel.scene.scene import Scene
from lipmodel.units import note_name, parse_note

PARTIALS = {0, *ALL_SEMITONES.values()}  # semitones above the first


def unplayable(scene: Scene) -> list[str]:
    """Sentences about notes that the instrument has no way to, in their order, each once.

    SceneError, every problem at once, for notes that nobody can hold or lips cannot sound.
    """
    told, refused = {}, {}
    notes = scene.phrase() if scene.player is not None and scene.player.notes else ()
    held = [(p, None) for p in _positions(scene.instrument.slide_position)]
    for note in notes:
        told[_no_way(scene, note)] = None
        held += [(p, note.valves.replace("auto", "0")) for p in _positions(note.slide_position)]
        try:
            sounding_frequency(scene, note)
        except SceneError as error:
            refused |= dict.fromkeys(error.problems)
    for position, valves in dict.fromkeys(held):
        try:
            scene_bore(scene, scene.spec(), position, valves)
        except SceneError as error:
            refused |= dict.fromkeys(error.problems)
    if refused:
        raise SceneError(tuple(refused))
    return [sentence for sentence in told if sentence]


def _positions(given) -> list[float]:
    """Slide positions of a key: a number, breakpoints, or nothing."""
    return [1.0] if given is None else list(Breakpoints.of(given).values)


def _no_way(scene: Scene, note) -> str:
    """What speaks against a note as it is held; "" if nothing does."""
    spec, semitone = scene.spec(), parse_note(note.note) + shift(scene)
    if not (valve_numbers(spec) or has_mark(spec, "slide") or spec.kind == "instrument"):
        return ""  # a bare bore: nobody says what its first partial is
    ways = _ways(spec, semitone)
    if not ways:
        near = min((s for s in range(128) if _ways(spec, s)), key=lambda s: abs(s - semitone))
        name = note_name(near - shift(scene), scene.notes.spelling)
        how = "slide position" if has_mark(spec, "slide") else "fingering"
        return (
            f"note {note.note}: no {how} of {title_of(spec)} gives it, the nearest is {name}; "
            "whether the lips alone reach it, only a render tells"
        )
    if note.valves in ("auto", *ways) or note.bend_cents or has_mark(spec, "slide"):
        return ""
    held = "without valves" if note.valves == "0" else f"with valves {spoken(note.valves)}"
    return f"note {note.note}: no partial {held} gives it; usual: {spoken(ways[0])}"


def _ways(spec: BoreFile, semitone: int) -> list[str]:
    """Valves that give a sounding semitone number on any partial up to the twelfth, the first
    too; "0" for each position of a slide that does."""
    above = semitone - fingering.fundamental(spec)
    held = fingering.combinations_of(spec)
    if has_mark(spec, "slide"):
        held = [("0", lowered) for lowered in range(lowest_by(spec) + 1)]
    return [valves for valves, lowered in held if above + lowered in PARTIALS]
