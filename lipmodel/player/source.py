"""A scene with a [source] as physics: what it puts into the tube, and what comes of it."""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.open_pipe import natural_frequencies
from lipmodel.acoustics.resonances import Resonance
from lipmodel.acoustics.thermoacoustic import Growth, rayleigh
from lipmodel.player.build import Built
from lipmodel.player.cached import kept_resonances
from lipmodel.player.radiated import at_ears, room_over_direct
from lipmodel.sound import listener
from lipmodel.units import KPA, LITRE, MM
from lipmodel.waveguide.source_loop import Heat, SourceOutput, Tube, drive, tube

PULSE = 0.6e-3  # s, of a slap: its spectrum is 3 dB down at 1.2 kHz
NOISE_BAND = (25.0, 5000.0)  # Hz, flat; half an octave of fading at each end
RAMP = 0.02  # s, in which noise and tone come and go
REST = 0.4  # s at the end, for the tube to die away
STIRRED = 1e-3  # Pa rms, of the noise that a flame grows from
FLAME_SOUNDS = 1.0  # Pa rms at the flame, in the last tenth of a second


@dataclass(frozen=True)
class SourceRun:
    """A source's run: the tube it was put into, what came of it, the pressure at the listener in
    Pa, the tube's own resonances, and what heat does to each of them (flame only)."""

    built: Built
    tube: Tube
    driven: SourceOutput
    heat: Heat | None
    radiated_pressure: np.ndarray
    resonances: list[Resonance]
    growths: list[Growth]

    @property
    def kind(self) -> str:
        return self.built.scene.source.kind

    @property
    def at_ears(self) -> tuple[np.ndarray, ...]:
        """Pressure in Pa at one ear or two, with the room."""
        return at_ears(self.built, self.driven, self.radiated_pressure)

    @property
    def room_over_direct(self) -> float | None:
        """dB by which the room's sound is stronger than the direct one; None for silence."""
        return room_over_direct(self.built, self.driven)

    @property
    def draught(self) -> bool:
        """Whether air can pass through the tube."""
        return self.tube.lip_end == "open" and self.built.bore.end != "closed"

    @property
    def sounds(self) -> bool:
        """False for a flame that stays silent."""
        if self.kind != "flame":
            return True
        last = self.driven.source_pressure[-int(0.1 * self.built.rate) :]
        return bool(np.std(last) > FLAME_SOUNDS)


def play_source(built: Built) -> SourceRun:
    """Play the [source] of a scene.  Raises SimulationError where the pressure runs away."""
    source, bore, air = built.scene.source, built.bore, built.air
    place = min(source.at_mm * MM, bore.length)
    where = tube(built.horn.ladder, bore, air, place, source.lip_end)
    own = tube_resonances(built)
    heat = heat_of(built, where) if source.kind == "flame" else None
    driven = drive(where, given_flow(built, where), heat)
    admittance = where.ladder.admittance[-1]
    heard = listener.radiated(driven.out_wave, driven.back_wave, admittance, built.radiation_filter)
    growths = []
    if source.kind == "flame" and source.lip_end == "open" and bore.end != "closed":
        strength = heat.top * heat.gain
        growths = rayleigh(bore, air, own, min(where.place, bore.length), strength, heat.lag)
    return SourceRun(built, where, driven, heat, heard, own, growths)


def tube_resonances(built: Built) -> list[Resonance]:
    """The tube's own: peaks of its impedance behind a closed lip end, natural frequencies with
    an open one."""
    if built.scene.source.lip_end == "closed":
        return kept_resonances(built.bore, built.air)
    return natural_frequencies(built.bore, built.air)


def heat_of(built: Built, where: Tube) -> Heat:
    """The flame as a source of volume: q' = Q tanh(u'/u0), u0 the draught, so that heat follows
    small motion in proportion (interaction index 1) and never falls below nothing.

    Without a draught no motion brings the flame more air: it gives nothing.
    """
    source, bore = built.scene.source, built.bore
    lag = source.lag_ms * 1e-3
    if source.lip_end == "closed" or bore.end == "closed":
        return Heat(0.0, 0.0, lag)
    ratio = built.air.at_share(where.place / bore.length).heat_ratio
    volume = (ratio - 1) / (where.density * where.sound_speed**2)
    return Heat(volume * source.heat_w, 1 / source.draught_m_s, lag)


def given_flow(built: Built, where: Tube) -> np.ndarray:
    """Flow of the source in m3/s, one value a sample, before any heat answers."""
    source, rate = built.scene.source, built.rate
    samples = round(built.scene.sound.length_s * rate)
    rng = np.random.default_rng(built.scene.sound.seed)
    if source.kind == "pop":
        return _pulse(source.strength_kpa * KPA * _facing(where), source.start_s, rate, samples)
    if source.kind == "breath":
        flow = noise(rng, rate, samples) * source.flow_l_s * LITRE
        return flow * _ramps(rate, samples, REST)
    if source.kind == "tone":
        return source.flow_l_s * LITRE * _sweep(source.sweep_hz, rate, samples)
    return noise(rng, rate, samples) * STIRRED * _facing(where)


def _facing(where: Tube) -> float:
    """Admittance that a flow meets where it comes in, before anything comes back."""
    y, at = where.ladder.admittance, where.junction
    return float(y[0] if at < 0 else y[at] + y[at + 1])


def _pulse(peak, start, rate, samples):
    flow = np.zeros(samples)
    first, count = round(start * rate), max(3, round(PULSE * rate))
    shape = peak * np.hanning(count + 2)[1:-1]
    part = flow[first : first + count]
    part += shape[: len(part)]
    return flow


def noise(rng, rate, samples):
    """Noise of rms 1, flat from 25 Hz to 5 kHz (or to 0.4 of the rate), shape (samples,)."""
    low, high = NOISE_BAND[0], min(NOISE_BAND[1], 0.4 * rate)
    frequency = np.fft.rfftfreq(samples, 1 / rate)
    octaves = np.log2(np.maximum(frequency, 1e-3))
    rise = np.clip(2 * (octaves - np.log2(low)) + 1, 0, 1)
    fall = np.clip(2 * (np.log2(high) - octaves) + 1, 0, 1)
    shaped = np.fft.irfft(np.fft.rfft(rng.standard_normal(samples)) * rise * fall, samples)
    return shaped / max(float(np.std(shaped)), 1e-30)


def _ramps(rate, samples, rest):
    """1 with ramps of 20 ms at the start and before the last `rest` seconds."""
    time = np.arange(samples) / rate
    end = max(samples / rate - rest, 0.5 * samples / rate)
    return np.clip(np.minimum(time, end - time) / RAMP, 0, 1)


def sweep_phase(sweep, rate, samples):
    """Frequency in Hz at every sample of a sweep of equal time an octave, and whether it sounds."""
    time = np.arange(samples) / rate
    end = max(samples / rate - REST, 0.5 * samples / rate)
    return sweep[0] * (sweep[1] / sweep[0]) ** np.minimum(time / end, 1.0)


def _sweep(sweep, rate, samples):
    frequency = sweep_phase(sweep, rate, samples)
    turns = np.cumsum(frequency) / rate
    return np.sin(2 * np.pi * turns) * _ramps(rate, samples, REST)
