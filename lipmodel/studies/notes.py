"""The notes of a take measured: lock, state, jumps."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from lipmodel.analysis import lock
from lipmodel.analysis.lock import BENT, UNSTEADY
from lipmodel.analysis.pitch import HOP, lowest_for, pitch, steady_pitch
from lipmodel.analysis.segments import spans
from lipmodel.analysis.spectrum import centroid, harmonics
from lipmodel.files.long_arrays import minimum
from lipmodel.player import joins
from lipmodel.player.build import valves_at
from lipmodel.player.gesture import steady_part
from lipmodel.player.note_names import nearest_partial, note_names
from lipmodel.player.performance import Performance
from lipmodel.player.tubing import first_position
from lipmodel.studies.energy import NoteEnergies
from lipmodel.units import cents
from lipmodel.waveguide.state import Horn

AROUND = 0.2  # s measured around a note's telling moment
MOST_NOTES = 60
FURTHEST_NAMED = 100.0  # cents from its pitch that a note still goes by its name
SHORTEST_HOLD = 0.3  # s that a lipped note must be held to be told
ONE_JUMP = 0.12  # s without a pitch that a jump takes at the most; with more it is a silence


class Notes:
    """The notes of a performance as report rows.

    `held_rows(valves, slide_position, pulls)` gives the resonance rows of the bore held so.
    """

    def __init__(self, performance: Performance, bore_rows, held_rows):
        self.performance = performance
        self.built = performance.built
        self.horn: Horn = performance.built.horn
        self.rate = performance.built.rate
        self.bore_rows = bore_rows
        self.held_rows = held_rows
        self.lowest = lowest_for(minimum(performance.tension))
        pressure = performance.played.mouthpiece_pressure
        self.times, self.track = pitch(pressure, self.rate, lowest=self.lowest)
        self.balances = NoteEnergies(performance)

    def rows(self) -> list[dict]:
        gesture = self.performance.gesture
        if gesture.notes:
            before = [None, *gesture.notes[:-1]]
            return [
                {**row, "number": number, "join": self._join(earlier, note)}
                for number, (earlier, note) in enumerate(zip(before, gesture.notes, strict=True), 1)
                for row in self._phrase_rows(note)
            ]
        samples = np.minimum((self.times * self.rate).astype(int), len(self.performance.mouth) - 1)
        held = spans(self.times, self.track, gesture.tension.at(samples / self.rate))
        return [
            self._row(s.start, s.end, s.at, None, s.swept or self._slid(s.start, s.end))
            for s in self._whole(held)[:MOST_NOTES]
        ]

    def _whole(self, held):
        """The spans, those made one again that only the player's drift tears apart."""
        found = held[:1]
        for after in held[1:]:
            before = found[-1]
            torn = self.drifted(before.end, after.start) > 0
            torn = torn and self.silence(before.end, after.start) <= ONE_JUMP
            if torn and not (before.swept or after.swept or self.jumps(before.end, after.start)):
                at = before.start + max(0.3, 0.5 * (after.end - before.start))
                found[-1] = replace(before, end=after.end, at=min(at, after.end))
            else:
                found.append(after)
        return found

    def _slid(self, start, end) -> bool:
        """Whether the slide moves so far from `start` to `end` s that the pitch does not stand."""
        motion = self.performance.gesture.slide
        moved = 0 if motion is None else np.ptp(motion.position_at(np.linspace(start, end, 101)))
        return bool(100 * moved > UNSTEADY)

    def _join(self, before, note) -> dict | None:
        """How a note is begun out of the one before it, and dB by which the sound dips there."""
        if note.join is None:
            return None
        heard = joins.listen(self.performance.at_ears[0], self.rate, before, note)
        return {"kind": note.join.kind, "dip_db": None if heard is None else round(heard.dip, 1)}

    def _phrase_rows(self, note):
        """A row for a note, and one more for each place where it is held lipped elsewhere."""
        part = steady_part(note, self.rate)
        first = note.bends.first
        last = (note.end - note.start - 2 * note.release, note.bends.last)
        # a bend may be written on beyond the note's end
        holds = [
            (a, min(b, last[0]), cents_)
            for (a, cents_), (b, other) in pairwise([*note.bends.points, last])
            if cents_ == other and min(b, last[0]) - a >= SHORTEST_HOLD
        ]
        until = next((a for a, _, c in holds if c != first), None)
        end = note.end if until is None else note.start + until
        row = self._row(note.start, end, part.stop / self.rate, note, False, part)
        rows = [{**row, "bend_cents": first}]
        for a, b, bend in holds:
            if until is None or a < until:
                continue
            begin, stop = note.start + a, note.start + b
            held = slice(int((stop - AROUND) * self.rate), int(stop * self.rate))
            row = self._row(begin, stop, stop, note, False, held)
            rows.append({**row, "bend_cents": bend})
        return rows

    def _row(self, start, end, at, note, swept, part=None):
        performance, rate = self.performance, self.rate
        half = min(AROUND / 2, (end - start) / 2)
        if part is None:
            part = slice(int(max(at - half, 0) * rate), int((at + half) * rate))
            if not swept:
                part = slice(int(max(at - 0.1, start) * rate), int(min(at + 0.2, end) * rate))
        pressure = performance.played.mouthpiece_pressure[part]
        sample = min(int(at * rate), len(performance.mouth) - 1)
        tension, mouth = _meant(performance, sample)
        frequency = self._frequency(pressure, at, swept)
        row = {
            "start_s": round(start, 4),
            "end_s": round(end, 4),
            "valves": note.valves if note else valves_at(self.built.scene, at),
            "slide_position": round(self._position(part, at, swept), 4),
            "tension_hz": tension,
            "pressure_kpa": mouth / 1e3,
            "mouthpiece_rms_pa": float(np.std(pressure)),
        }
        if frequency is None:
            return {**row, **self._silent(row["mouthpiece_rms_pa"])}
        held = row["valves"], row["slide_position"], note.pulls if note else None
        rows = self._rows_held(*held)
        sounding = self._sounding(at, tension, mouth, frequency, pressure, rows)
        return {**row, **sounding, "energy": self._energy(part, frequency, held)}

    def _energy(self, part, frequency, held):
        """Where the note's power goes; from the impedances too where the picture is asked for."""
        energy = self.balances.of(part, frequency, held, self.built.scene.show.energy)
        return None if energy is None else energy.row()

    def name_at(self, time) -> str:
        """Written name of what was heard nearest to `time` s."""
        return note_names(self.performance.built, self.heard_at(time))["written"]

    def heard_at(self, time) -> float:
        """What was heard nearest to `time` s, in Hz."""
        heard = np.flatnonzero(np.isfinite(self.track))
        nearest = heard[np.argmin(np.abs(np.asarray(self.times)[heard] - time))]
        return float(self.track[nearest])

    def silence(self, before, after) -> float:
        """Seconds from one time to another in which there was no pitch."""
        times = np.asarray(self.times)
        inside = (times > before) & (times < after)
        return HOP * float(np.isnan(np.asarray(self.track)[inside]).sum())

    def leap(self, before, after) -> float:
        """Cents, without a sign, from what was heard at one time (s) to that at another."""
        return abs(cents(self.heard_at(after), self.heard_at(before)))

    def drifted(self, before, after) -> float:
        """Cents, without a sign, that the player's drift took the lips from one time (s) to
        another."""
        performance, rate = self.performance, self.rate
        samples = [min(int(time * rate), len(performance.tension) - 1) for time in (before, after)]
        a, b = (cents(performance.tension[n], _meant(performance, n)[0]) for n in samples)
        return abs(b - a)

    def jumps(self, before, after) -> bool:
        """Whether the pitch leaves one slot for another from one time (s) to the next, and not
        only goes with the lips' drift."""
        return self.leap(before, after) - self.drifted(before, after) >= lock.JUMP

    def _position(self, part, at, swept) -> float:
        if swept:
            return self.performance.slide_position(at, at)
        return self.performance.slide_position(part.start / self.rate, part.stop / self.rate)

    def _rows_held(self, valves, position, pulls):
        """Resonances with these valves and this slide position; the built bore's own if it has
        them already."""
        if valves == "0" and position == first_position(self.built):
            return self.bore_rows
        return self.held_rows(valves, position, pulls)

    def _frequency(self, pressure, at, swept):
        if not swept:
            frequency = steady_pitch(pressure, self.rate, lowest=self.lowest)
            return None if math.isnan(frequency) else frequency
        near = self.track[min(int(np.searchsorted(self.times, at)), len(self.track) - 1)]
        return None if np.isnan(near) else float(near)

    def _silent(self, rms):
        empty = ("frequency_hz", "sounding", "written", "cents", "partial", "resonance_hz")
        empty += ("cents_from_resonance", "lock", "lipped_cents", "centroid_hz", "energy")
        state = "silent" if rms < 2.0 else "unsteady"
        return {**dict.fromkeys(empty), "state": state}

    def _sounding(self, at, tension, mouth, frequency, pressure, rows):
        nearest = nearest_partial(rows, frequency)
        state = self.performance.state_at(at)
        lines = self.performance.lines_at(at)
        locked = lock.lock(self.horn, state, mouth, tension, lines, frequency)
        branch = lock.branch(self.horn, state, mouth, tension, lines, frequency)
        slot = lock.slot_of(branch, tension)
        lipped = None if slot is None else cents(frequency, slot.resting)
        amplitudes = harmonics(pressure, self.rate, frequency)
        return {
            "frequency_hz": frequency,
            **note_names(self.built, frequency),
            "partial": nearest["n"] if nearest else None,
            "resonance_hz": nearest["frequency_hz"] if nearest else None,
            "cents_from_resonance": cents(frequency, nearest["frequency_hz"]) if nearest else None,
            "lock": locked,
            "lipped_cents": lipped,
            "state": self._state(slot, tension, lipped),
            "centroid_hz": centroid(amplitudes, frequency),
        }

    @staticmethod
    def _state(slot, tension, lipped):
        if slot is None:
            return "free"
        return "locked" if slot.holds(tension) and abs(lipped) <= BENT else "bent"


def jumps_of(rows, notes: Notes) -> list[dict]:
    """Where one note follows another without a silence between: time, both notes' written names,
    and what lips and breath were then.  While a slide moves, notes are named as they are there."""
    performance = notes.performance
    rate, jumps = performance.built.rate, []
    for before, after in pairwise(rows):
        if before["frequency_hz"] is None or after["frequency_hz"] is None:
            continue
        if notes.silence(before["end_s"], after["start_s"]) > ONE_JUMP:
            continue
        if not notes.jumps(before["end_s"], after["start_s"]):
            continue  # told apart by what the lips did: the pitch went on smoothly
        at = 0.5 * (before["end_s"] + after["start_s"])
        sample = min(int(at * rate), len(performance.mouth) - 1)
        tension, mouth = _meant(performance, sample)
        jumps.append(
            {
                "time_s": round(at, 3),
                "from": _named(notes, before, before["end_s"]),
                "to": _named(notes, after, after["start_s"]),
                "tension_hz": tension,
                "pressure_kpa": mouth / 1e3,
            }
        )
    return jumps


def _meant(performance, sample) -> tuple[float, float]:
    """Lip setting (Hz) and breath (Pa) at a sample, without the player's drift."""
    gesture, time = performance.gesture, sample / performance.built.rate
    return gesture.tension.at(time), gesture.mouth.at(time)


def _named(notes: Notes, row, time) -> str:
    """A note's name; where it was drawn further from it, or slid, its name at `time` s."""
    moving = notes.performance.gesture.slide is not None
    drawn = abs(cents(notes.heard_at(time), row["frequency_hz"])) > FURTHEST_NAMED
    return notes.name_at(time) if moving or drawn else row["written"]
