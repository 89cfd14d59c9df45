"""PlannedNote, Gesture, steady part of a note."""

from dataclasses import dataclass

import numpy as np

from lipmodel.player import embouchure
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.joins import Join
from lipmodel.player.short_note import LOOSER
from lipmodel.player.slide import Motion
from lipmodel.scene.player import Vibrato

SWELL_SETTINGS = 4  # moments of a swelled note at which the lips are set
LONGEST_NOTE_MEASURED = 0.5  # s


STILL = Breakpoints.of(1.0)


@dataclass(frozen=True)
class PlannedNote:
    """A note of a phrase as it will be played, SI; breakpoints count from its start."""

    name: str
    semitone: int
    start: float
    end: float
    frequency: float
    pressure: Breakpoints
    valves: str
    lines: np.ndarray
    bends: Breakpoints  #: cents
    comes: float = LOOSER  #: times its setting from where the lips come to it out of silence
    settings: tuple[float, ...] = ()  #: tension at every one of lip_times
    slope: float = embouchure.SLOPE
    attack: str = "plain"  #: how it begins out of silence
    join: Join | None = None  #: how it begins out of the note before
    late: float = 0.0  #: s after its time at which the breath comes
    surge: float = 1.0  #: times its breath at which it begins
    release: float = 0.03  #: s, in which the breath falls at the end
    vibrato: Vibrato | None = None
    slide: Breakpoints = STILL  #: position
    pulls: tuple[float, float] = (0.0, 0.0)  #: mm, of the first and third valve's slide
    valve_tube: float = 0.0  #: m
    follow: Breakpoints = STILL  #: the column over its first
    leaving: float = 0.0  #: s before its end at which the slide sets out for the next note
    quiet: float = 0.0  #: s before its end by which the breath is gone for that

    swelled: bool = False  #: by a dynamic that changes: the lips make up for it

    @property
    def lip_times(self) -> tuple[float, ...]:
        """s after its start at which the lips are set."""
        if self.swelled and not self.bends.moves:
            return tuple(np.linspace(0.0, self.end - self.start, SWELL_SETTINGS).tolist())
        return self.bends.times

    def setting_at(self, time) -> float:
        """Tension in Hz at `time` s after its start, slide and vibrato left out."""
        return float(np.interp(time, self.lip_times, self.settings))

    def follows(self, time):
        """How far the slide has taken the column at `time` s after the start: a ratio, 1 at first,
        of the shape of `time`."""
        return np.exp(np.interp(time, self.follow.times, np.log(self.follow.values)))


@dataclass(frozen=True)
class Gesture:
    """Breath (Pa) and lips (Hz), and when which valves are down."""

    mouth: Breakpoints
    tension: Breakpoints
    length: float
    moves: tuple = ()  #: (time, delays of the lines) at which valves start to move
    first_lines: np.ndarray | None = None
    notes: tuple[PlannedNote, ...] = ()
    slide: Motion | None = None
    firm_for: Breakpoints | None = (
        None  #: breath that the lips are set for, Pa; None: what is blown
    )


def steady_part(note: PlannedNote, rate) -> slice:
    """Samples in which a note's first pitch is steady: after the attack, before bend or end."""
    span = note.end - note.start
    # of a note that is nearly all release, its beginning
    until = max(span - max(note.quiet + 2 * note.release, note.leaving), span / 4)
    if len(set(note.slide.values)) > 1:  # until the slide moves away
        until = min(until, max(note.slide.leaves, 0.25))
    if note.bends.moves:  # until the bend moves away from where it starts
        until = min(until, max(note.bends.leaves, 0.25))
    begin = min(0.3 if until > 0.5 else 0.5 * until, until - 0.05)
    stop = min(until, begin + LONGEST_NOTE_MEASURED)
    if note.vibrato is not None:  # whole waves
        waves = int((until - begin) * note.vibrato.rate_hz)
        stop = begin + max(waves, 1) / note.vibrato.rate_hz if waves else stop
    first = int((note.start + max(begin, 0)) * rate)
    return slice(first, int((note.start + stop) * rate))
