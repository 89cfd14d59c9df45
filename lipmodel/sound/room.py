"""A listener in a room: what the walls of a box send back, and two ears.

Reflections up to the second order come from image sources (Allen and Berkley, J. Acoust. Soc. Am.
65, 1979, from memory): each horn behind the walls at its own distance and under its own angle off
its mirrored axis.  All later ones are a tail of noise in octave bands that fades as the diffuse
field does, mean p^2 = W rho c^2/V e^(-13.8 t/T) a second after a flash of W joule (Kuttruff, Room
Acoustics, from memory; its integral is Sabine's 4 W rho c/A, A = 55.3 V/(c T)).  The tail comes in
as images of the third order and more do: their share of all images of a box, at that time, in the
mean over places (ours; exact, since the number of walls that a straight way of a given length and
direction crosses is).  So nothing is there twice and no gap is between.

The walls are alike and take what the reverberation time asks for (Eyring).  How it falls with
frequency is ours: rooms take more of high sound, in walls and in the air.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.sound import listener

ORDER = 2  # walls that an image's sound has met
OCTAVES = 125.0 * 2.0 ** np.arange(8)  # Hz; ISO 3382-1 measures in 125 to 4000
RATIOS = np.array([1.15, 1.08, 1.0, 1.0, 0.95, 0.85, 0.7, 0.5])  # of the time at 500 and 1000: ours
FADE = 6 * np.log(10)  # 60 dB of energy, as a power of e
CROSSING = 1 / 12  # octaves to each side of a band's end, in which the next takes over
LONGER = 1.25  # times the reverberation time: the tail ends 75 dB down
EVEN = 8.0  # bandwidths' inverse: noise is as strong in every such stretch
EARS = 0.17  # m between two ears
DIRECTIONS = 400
MOMENTS = 500


@dataclass(frozen=True)
class Room:
    """A box: length, width, height in m, reverberation time in s (mean of 500 and 1000 Hz), and
    where in its plan the middle between horn and ears lies, m."""

    size: tuple[float, float, float]
    reverberation: float
    middle: tuple[float, float]

    @property
    def volume(self) -> float:
        return float(np.prod(self.size))

    @property
    def surface(self) -> float:
        a, b, c = self.size
        return 2 * (a * b + b * c + c * a)

    def time(self, frequency):
        """Reverberation time in s, shape of `frequency` in Hz."""
        octave = np.log2(np.maximum(frequency, 1.0))
        return self.reverberation * np.interp(octave, np.log2(OCTAVES), RATIOS)

    def returned(self, frequency, sound_speed):
        """Share of the energy that a wall sends back: T = 55.3 V/(-c S ln(share)), Eyring."""
        left = 4 * FADE * self.volume / (sound_speed * self.surface * self.time(frequency))
        return np.exp(-left)


@dataclass(frozen=True)
class Place:
    """Where horn and ear are, m from a corner of the room, and where the bell points."""

    horn: np.ndarray
    ear: np.ndarray
    axis: np.ndarray

    def way(self, across=(0, 0, 0), image=None):
        """(distance in m, angle off the axis in rad) of the ear from the horn, or from its
        `image`, mirrored as often in each direction as `across` says."""
        sign = 1 - 2 * (np.asarray(across) % 2)
        line = self.ear - (self.horn if image is None else image)
        distance = float(np.linalg.norm(line))
        cosine = np.clip(line @ (self.axis * sign) / distance, -1, 1)
        return distance, float(np.arccos(cosine))


def placed(distance, angle, bell_height, bell_up=False, side=0, middle=(0.0, 0.0)) -> Place:
    """An ear `distance` m from the bell and `angle` rad off its axis, its way there along the
    room; a bell that points up has its axis upright.

    side: -1 the left of two ears, 1 the right, 0 one ear in their middle; they are level, and
    the bell lies straight before or behind them.
    """
    up = listener.EAR_HEIGHT - bell_height
    level = np.sqrt(max(distance**2 - up**2, 0.0))
    line = np.array([level, 0.0, up])
    beside = np.array([0.0, 1.0, 0.0])
    axis = np.cos(angle) * line / np.linalg.norm(line) + np.sin(angle) * beside
    axis = np.array([0.0, 0.0, 1.0]) if bell_up else axis
    horn = np.array([middle[0] - level / 2, middle[1], bell_height])
    return Place(horn, horn + line + side * EARS / 2 * beside, axis)


def images(room: Room, place: Place, order=ORDER):
    """(walls met, distance in m, angle in rad) of every image but the horn itself.

    A coordinate x is seen at x + 2 n L with 2 |n| walls met, and at 2 n L - x with |2 n - 1|.
    """
    found = []
    each = range(-order, order + 1)
    for across in np.stack(np.meshgrid(each, each, each), -1).reshape(-1, 3):
        met = int(np.sum(np.abs(across)))
        if not 1 <= met <= order:
            continue
        size = np.array(room.size)
        odd = across % 2 == 1
        image = np.where(odd, (across + 1) * size - place.horn, across * size + place.horn)
        found.append((met, *place.way(across, image)))
    return sorted(found, key=lambda row: row[1])


def direct(bore, air, rate, place: Place):
    """Impulse response of the direct sound (`listener.radiation_filter`), which arrives at once."""
    return listener.radiation_filter(bore, air, rate, *place.way())


def reflections(bore, air, rate, room: Room, place: Place, seed=1, side=0):
    """Impulse response from volume flow (m3/s) through the open end to what the walls add to the
    pressure (Pa) at an ear, shape (n,); times count from the arrival of the direct sound.

    `side` as in `placed`: the tails of two ears are as alike as a diffuse field at two points,
    sin(kd)/kd (textbook).  The same seed gives the same samples.
    """
    early = _early(bore, air, rate, room, place)
    total = _tail(bore, air, rate, room, place, seed, side)
    if len(total) < len(early):
        early, total = total, early
    total[: len(early)] += early
    return total


def _early(bore, air, rate, room, place):
    """What the images send, a wall's share of the pressure off at each."""
    first = place.way()[0]
    rows = images(room, place)
    late = [max((r - first) / air.sound_speed * rate, 0.5) for _, r, _ in rows]
    total = np.zeros(int(max(late)) + listener.FILTER_SIZE + 2)
    for (met, distance, angle), samples in zip(rows, late, strict=True):

        def walls(frequency, met=met):
            return room.returned(frequency, air.sound_speed) ** (met / 2)

        response = listener.radiation_filter(bore, air, rate, distance, angle, walls)
        whole, response = listener.delayed(response, samples)
        total[whole : whole + len(response)] += response
    return total


def _tail(bore, air, rate, room, place, seed, side):
    """Noise with the power of the diffuse field but for the images, through the filter of what
    the horn radiates to all sides; none before the first image that is left to it."""
    from scipy.fft import next_fast_len  # slow to load, and filters are kept
    from scipy.signal import fftconvolve

    times = room.time(OCTAVES)
    n = next_fast_len(int(LONGER * times.max() * rate))
    time = np.arange(n) / rate + place.way()[0] / air.sound_speed
    nearest = min(far for met, far, _ in images(room, place, ORDER + 1) if met > ORDER)
    shares = unseen(room, time, air.sound_speed) * (time >= nearest / air.sound_speed)
    total = np.zeros(n)
    for noise, fade, share in zip(_noises(n, rate, seed, side, air), times, shares, strict=True):
        total += noise * np.sqrt(np.exp(-FADE * time / fade) * share)
    return fftconvolve(total, diffuse_filter(bore, air, rate, room.volume))[:n] / np.sqrt(rate)


def diffuse_filter(bore, air, rate, volume):
    """Impulse response whose squared gain is rho c^2 Re(Z_r)/V: mean square of the pressure a
    second in a room of `volume` m3, for a volume flow of 1; minimum phase."""
    if bore.end in ("closed", "node"):
        return np.zeros(listener.FILTER_SIZE)
    _, omega = listener.filter_grid(rate)
    load = np.maximum(listener.open_load(bore, air, omega).real, 0)
    gain = np.sqrt(air.density * air.sound_speed**2 * load / volume)
    return listener.shaped(gain, omega, rate)


def unseen(room: Room, time, sound_speed, order=ORDER):
    """Share of the energy that arrives `time` s after it was sent and has met more than `order`
    walls, shape (octaves, len(time)).

    Along each edge a way of length c t crosses |c t u|/L walls in the mean over places, that is
    one of the two whole numbers beside it.
    """
    kept = room.returned(OCTAVES, sound_speed)[:, None, None]
    last = (order + 1) * max(room.size) / sound_speed
    moments = np.linspace(0, last, MOMENTS)
    crossed = sound_speed * moments[:, None] / np.array(room.size)[:, None, None] * _octant()
    whole = np.floor(crossed)
    part = crossed - whole
    everything = np.prod([kept**w * (1 - p + p * kept) for w, p in zip(whole, part, strict=True)],
                         axis=0)  # fmt: skip
    seen = np.zeros_like(everything)
    chance = [[np.maximum(1 - np.abs(k - c), 0) for k in range(order + 1)] for c in crossed]
    for i in range(order + 1):
        for j in range(order + 1 - i):
            for k in range(order + 1 - i - j):
                seen += chance[0][i] * chance[1][j] * chance[2][k] * kept ** (i + j + k)
    share = 1 - seen.mean(axis=2) / everything.mean(axis=2)
    return np.array([np.interp(time, moments, np.clip(row, 0, 1)) for row in share])


def _octant():
    """|u| of directions all round, evenly, shape (3, 1, DIRECTIONS): a spiral of golden angles."""
    up = (np.arange(DIRECTIONS) + 0.5) / DIRECTIONS
    turn = np.pi * (3 - np.sqrt(5)) * np.arange(DIRECTIONS)
    round_ = np.sqrt(1 - up**2)
    return np.abs([round_ * np.cos(turn), round_ * np.sin(turn), up])[:, None, :]


def _noises(n, rate, seed, side, air):
    """Noise for every octave, shape (n,), each with its share of a white noise of variance 1, and
    as strong early as late: what is heard fades as the room does and not by chance."""
    rng = np.random.default_rng(seed)
    frequency = np.fft.rfftfreq(n, 1 / rate)
    alike = np.sinc(2 * frequency * EARS / air.sound_speed)
    weights = _weights(frequency)
    for centre, weight in zip(OCTAVES, weights, strict=True):
        one, other = (np.fft.rfft(rng.standard_normal(n)) for _ in range(2))
        if side:
            one = np.sqrt((1 + alike) / 2) * one + side * np.sqrt((1 - alike) / 2) * other
        noise = np.fft.irfft(one * weight, n)
        share = np.mean(weight**2)
        size = min(int(EVEN * np.sqrt(2) / centre * rate), n)
        window = np.roll(np.r_[np.hanning(size + 2)[1:-1], np.zeros(n - size)], -(size // 2))
        strength = np.fft.irfft(np.fft.rfft(noise**2) * np.fft.rfft(window / window.sum()), n)
        noise /= np.sqrt(np.maximum(strength, 1e-3 * share + 1e-30))
        yield noise * np.sqrt(share / np.mean(noise**2))


def _weights(frequency):
    """Gains of the octaves, whose squares add up to 1, shape (octaves, len(frequency))."""
    octave = np.log2(np.maximum(frequency, 1.0))
    ends = np.log2(OCTAVES[1:]) - 0.5
    above = np.clip((octave - ends[:, None]) / (2 * CROSSING) + 0.5, 0, 1) * np.pi / 2
    low = np.vstack([np.ones_like(octave), np.sin(above)])
    high = np.vstack([np.cos(above), np.ones_like(octave)])
    return low * high
