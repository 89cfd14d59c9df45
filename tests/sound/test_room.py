"""A made room against hand-drawn mirror images, Eyring, ISO 3382-1 and the diffuse field."""

import numpy as np
import pytest
from scipy.fft import next_fast_len
from scipy.signal import butter, sosfilt
from support.music import RATE_HZ

from lipmodel.air import Air
from lipmodel.bore.instruments import instrument
from lipmodel.sound import listener, room
from lipmodel.sound.room import OCTAVES, Room, placed

AIR = Air.at(20.0)
BORE = instrument("trumpet")
PRACTICE = Room((4.2, 3.1, 2.6), 0.4, (2.0, 1.3))
HALL = Room((22.0, 14.0, 8.0), 1.7, (10.3, 5.9))
LIVE = Room((4.2, 3.1, 2.6), 3.0, (2.0, 1.3))  # bathroom
DEAD = Room((22.0, 14.0, 8.0), 0.8, (10.3, 5.9))  # walls that take a third
LONG = Room((60.0, 40.0, 20.0), 3.0, (28.2, 16.8))
ROOMS = {"practice": (PRACTICE, 2.0), "hall": (HALL, 6.0), "live": (LIVE, 1.0),
         "dead": (DEAD, 8.0), "long": (LONG, 15.0)}  # fmt: skip
MEASURED = OCTAVES[:6]  # 125 to 4000 Hz


def made(box, distance, angle=0.0, seed=1, side=0):
    place = placed(distance, angle, 1.2, side=side, middle=box.middle)
    return place, room.reflections(BORE, AIR, RATE_HZ, box, place, seed, side)


def octave(response, centre):
    """The octave of a response, filtered backwards in time so that the filter's own ringing does
    not count as the room's (common practice)."""
    edges = centre / np.sqrt(2), centre * np.sqrt(2)
    sos = butter(4, edges, "bandpass", fs=RATE_HZ, output="sos")
    return sosfilt(sos, response[::-1])[::-1]


def reverberation_time(response, centre):
    """T30 of ISO 3382-1: the energy still to come (Schroeder), a straight line through its level
    from -5 to -35 dB, and 60 dB along it."""
    left = np.cumsum(octave(response, centre)[::-1] ** 2)[::-1]
    level = 10 * np.log10(left / left[0])
    inside = np.flatnonzero((level <= -5) & (level >= -35))
    slope, _ = np.polyfit(inside / RATE_HZ, level[inside], 1)
    return -60 / slope


def band_energy(response, centre):
    size = next_fast_len(2 * len(response))
    frequency = np.fft.rfftfreq(size, 1 / RATE_HZ)
    inside = (frequency > centre / np.sqrt(2)) & (frequency < centre * np.sqrt(2))
    # a mean over the band's own lines, so that sizes of two transforms do not matter
    return np.mean(np.abs(np.fft.rfft(response, size)[inside]) ** 2)


@pytest.mark.parametrize("box", ROOMS)
def test_the_room_rings_as_long_as_is_asked_for(box):
    box, distance = ROOMS[box]
    place, added = made(box, distance)
    whole = np.array(added)
    whole[: listener.FILTER_SIZE] += room.direct(BORE, AIR, RATE_HZ, place)
    asked = box.reverberation * np.array([1.15, 1.08, 1.0, 1.0, 0.95, 0.85])
    found = [reverberation_time(whole, f) for f in MEASURED]
    # 10 % is what was wanted; measured 0.1 to 5.6 %, most in low narrow octaves of a short time
    assert found == pytest.approx(asked, rel=0.1)


def test_the_middle_octaves_have_the_asked_time_in_the_mean():
    assert np.mean(HALL.time(np.array([500.0, 1000.0]))) == pytest.approx(1.7)
    assert HALL.time(60.0) == HALL.time(125.0) > HALL.time(4000.0) > HALL.time(16_000.0)


def test_walls_take_what_eyring_says():
    # A room of 10 x 10 x 10 m whose walls send back half the energy, c = 343.2 m/s:
    # T = 24 ln 10/343.2 * 1000/(600 ln 2) = 0.387171 s, by hand
    cube = Room((10.0, 10.0, 10.0), 0.387171, (5.0, 5.0))
    assert cube.returned(500.0, 343.2) == pytest.approx(0.5, abs=1e-5)


def test_images_are_where_a_drawing_has_them():
    # Horn at (1, 1, 1.2), ear at (3, 1, 1.2) in a box of 5 x 4 x 3 m, the bell towards the ear.
    box, place = Room((5.0, 4.0, 3.0), 1.0, (2.0, 1.0)), placed(2.0, 0.0, 1.2, middle=(2.0, 1.0))
    assert place.horn == pytest.approx([1.0, 1.0, 1.2])
    assert place.ear == pytest.approx([3.0, 1.0, 1.2])
    by_hand = {  # what was met: (walls, image minus ear in m, angle in degrees), drawn by hand
        "behind": (1, 4.0, 180.0),  # image at x = -1, its bell turned away
        "before": (1, 6.0, 0.0),  # x = 9: 6 m beyond the ear, its bell turned back to it
        "right": (1, np.hypot(2, 2), 45.0),  # y = -1
        "left": (1, np.hypot(2, 6), np.degrees(np.arctan2(6, 2))),  # y = 7
        "floor": (1, np.hypot(2, 2.4), np.degrees(np.arctan2(2.4, 2))),
        "ceiling": (1, np.hypot(2, 3.6), np.degrees(np.arctan2(3.6, 2))),
        "behind and before": (2, 12.0, 0.0),  # x = -9: mirrored twice, looks towards the ear
        "before and behind": (2, 8.0, 180.0),  # x = 11, looks away as the horn does
        "floor and right": (2, np.sqrt(4 + 4 + 5.76), np.degrees(np.arccos(2 / np.sqrt(13.76)))),
        "behind and floor": (2, np.hypot(4, 2.4), 180 - np.degrees(np.arctan2(2.4, 4))),
    }
    found = room.images(box, place)
    assert len(found) == 24
    assert sum(met == 1 for met, *_ in found) == 6
    for met, distance, degrees in by_hand.values():
        near = [r for r in found if r[0] == met and abs(r[1] - distance) < 1e-9]
        assert any(abs(np.degrees(r[2]) - degrees) < 1e-5 for r in near), (met, distance, degrees)


def test_reflections_come_as_late_and_as_weak_as_their_way(monkeypatch):
    # Walls alike at all frequencies have no phase of their own.
    monkeypatch.setattr(room, "RATIOS", np.ones(8))
    # A small pipe radiates low sound alike to all sides, so that an echo is e^(-j w t) R^n d/d'.
    box, place = Room((5.0, 4.0, 3.0), 1.0, (2.0, 1.0)), placed(2.0, 0.0, 1.2, middle=(2.0, 1.0))
    pipe = instrument("pipe")
    first = room.direct(pipe, AIR, RATE_HZ, place)
    early = room._early(pipe, AIR, RATE_HZ, box, place)
    frequency = np.arange(100.0, 260.0, 7.0)

    def answer(response):
        turns = np.outer(frequency, np.arange(len(response))) / RATE_HZ
        return np.exp(-2j * np.pi * turns) @ response

    c, s = AIR.sound_speed, 2 * (20 + 15 + 12)
    kept = np.sqrt(np.exp(-24 * np.log(10) * 60 / (c * s)))  # Eyring, T = 1 s
    expected = np.zeros(len(frequency), complex)
    for nx in range(-2, 3):  # images counted anew: x = 2 m L + x0 or 2 m L - x0
        for ny in range(-2, 3):
            for nz in range(-2, 3):
                met = abs(nx) + abs(ny) + abs(nz)
                if not 1 <= met <= 2:
                    continue
                at = [
                    n * size + (x if n % 2 == 0 else size - x)
                    for n, size, x in zip((nx, ny, nz), (5, 4, 3), (1, 1, 1.2), strict=True)
                ]
                far = np.linalg.norm(np.subtract(at, (3, 1, 1.2)))
                turn = np.exp(-2j * np.pi * frequency * (far - 2) / c)
                expected += kept**met * 2 / far * turn
    ratio = answer(early) / answer(first)
    # measured 0.009, and 0.03 at 400 Hz: the pipe's own directivity, which grows like f^2
    assert np.abs(ratio - expected).max() < 0.013 * np.abs(expected).max()


def test_the_direct_sound_is_todays():
    for angle in (0.0, 0.6, np.pi):
        place = placed(2.5, angle, 1.2, middle=HALL.middle)
        today = listener.filter_at(BORE, AIR, RATE_HZ, 2.5, angle)
        direct = room.direct(BORE, AIR, RATE_HZ, place)
        assert np.abs(direct - today).max() < 1e-9 * np.abs(today).max()


def test_nothing_comes_back_before_the_first_wall_can():
    _, added = made(HALL, 6.0)
    # floor: hypot(6, 2.4) - 6 = 0.462 m later; the side wall is further
    first = int(0.4622 / AIR.sound_speed * RATE_HZ)
    assert np.abs(added[: first - 1]).max() < 1e-3 * np.abs(added).max()
    assert np.abs(added[first : first + 10]).max() > 0.2 * np.abs(added).max()


@pytest.mark.parametrize("box", ROOMS)
def test_the_late_sound_is_as_strong_as_the_diffuse_field(box):
    # Kuttruff, from memory: mean p^2 = W rho c^2/V e^(-13.8 t/T) a second after W J were sent; from
    # a moment on, the integral of that is W rho c^2/V T/13.8 e^(-13.8 t/T).
    box, distance = ROOMS[box]
    begin = int(3.1 * max(box.size) / AIR.sound_speed * RATE_HZ)
    t = begin / RATE_HZ + distance / AIR.sound_speed
    tails = [made(box, distance, seed=seed)[1][begin:] for seed in range(3)]
    flash = room.diffuse_filter(BORE, AIR, RATE_HZ, box.volume)
    for centre in MEASURED:
        heard = np.mean([band_energy(tail, centre) for tail in tails])
        fade = box.time(centre) / (6 * np.log(10))
        theory = np.mean(band_energy(flash, centre)) * fade * np.exp(-t / fade)
        # chance: measured 0.8 dB where an octave holds few swings of a short time, else 0.4
        assert abs(10 * np.log10(heard / theory)) < (2.0 if centre * box.reverberation < 100 else 1)


@pytest.mark.slow  # ten rooms
def test_all_that_walls_add_is_sabines_field():
    # 4 W rho c/A with A = 55.3 V/(c T) from the direct sound on, in the mean over rooms, places and
    # octaves; one place alone differs by a few dB (revised theory: Barron, from memory)
    off, flash = [], room.diffuse_filter(BORE, AIR, RATE_HZ, 1.0)  # rho c^2 Re Z
    for box, distance in ROOMS.values():
        for angle in (0.0, 2.5):
            _, added = made(box, distance, angle)
            for centre in MEASURED[:3]:
                area = 24 * np.log(10) * box.volume / (AIR.sound_speed * box.time(centre))
                begun = np.exp(-6 * np.log(10) * distance / AIR.sound_speed / box.time(centre))
                theory = band_energy(flash, centre) / AIR.sound_speed * 4 / area * begun
                off.append(10 * np.log10(band_energy(added, centre) / theory))
    # measured -0.1 and 0.8 dB
    assert abs(np.mean(off)) < 0.5
    assert np.std(off) < 1.5


def test_no_gap_and_no_jump_between_images_and_tail():
    # energy in steps of 20 ms against the diffuse field, in the mean of five seeds and places
    steps = np.zeros(12)
    for n, distance in enumerate((5.0, 6.0, 7.0, 8.0, 9.0)):
        _, added = made(HALL, distance, 0.5 * n, seed=n)
        part, size = octave(added, 500.0), int(0.02 * RATE_HZ)
        energy = np.add.reduceat(part[: 12 * size] ** 2, np.arange(0, 12 * size, size))
        t = (np.arange(12) + 0.5) * 0.02 + distance / AIR.sound_speed
        steps += energy * np.exp(6 * np.log(10) * t / HALL.time(500.0))
    level = 10 * np.log10(steps / steps[6:].mean())
    # the first 20 ms begin before the first reflection; then measured -1.3 to 0.5 dB
    assert np.all(np.abs(level[1:]) < 2.0), level


def test_the_share_of_later_images_is_what_counting_them_gives():
    # images of random horns and ears in the hall, counted shell by shell: Allen and Berkley's box
    rng = np.random.default_rng(7)
    size, c = np.array(HALL.size), AIR.sound_speed
    kept = float(HALL.returned(500.0, c))
    edges = np.array([0.02, 0.04, 0.06, 0.08, 0.1, 0.12])
    seen, every = np.zeros(5), np.zeros(5)
    n = np.stack(np.meshgrid(*[np.arange(-6, 7)] * 3), -1).reshape(-1, 3)
    met = np.abs(n).sum(axis=1)
    for _ in range(300):
        horn, ear = rng.uniform(0, 1, (2, 3)) * size
        image = n * size + np.where(n % 2 == 0, horn, size - horn)
        late = np.linalg.norm(image - ear, axis=1) / c
        weight = kept**met / late**2
        every += np.histogram(late, edges, weights=weight)[0]
        seen += np.histogram(late, edges, weights=weight * (met <= 2))[0]
    middle = (edges[1:] + edges[:-1]) / 2
    share = room.unseen(HALL, middle, c)[2]
    assert share == pytest.approx(1 - seen / every, abs=0.03)  # measured 0.011


def test_the_same_seed_is_the_same_room():
    _, one = made(PRACTICE, 1.0)
    _, again = made(PRACTICE, 1.0)
    _, other = made(PRACTICE, 1.0, seed=2)
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)


def test_two_ears_hear_a_diffuse_field_as_far_apart_as_they_are():
    # coherence of a diffuse field at two points: sin(kd)/(kd) (textbook), d = 0.17 m
    n = 1 << 17
    left, right = (sum(room._noises(n, RATE_HZ, 1, side, AIR)) for side in (-1, 1))
    one, other = np.fft.rfft(left), np.fft.rfft(right)
    frequency = np.fft.rfftfreq(n, 1 / RATE_HZ)
    for low, high in ((100, 300), (700, 900), (1300, 1600), (3000, 5000)):
        inside = (frequency > low) & (frequency < high)
        cross = np.real(np.sum(one[inside] * np.conj(other[inside])))
        power = np.sqrt(np.sum(np.abs(one[inside]) ** 2) * np.sum(np.abs(other[inside]) ** 2))
        kd = 2 * np.pi * frequency[inside] * 0.17 / AIR.sound_speed
        # chance 0.03 to 0.04, from the number of lines in a band; three times allowed
        assert cross / power == pytest.approx(np.mean(np.sin(kd) / kd), abs=0.12)


def test_ears_are_17_cm_apart_across_the_way():
    left, right = (placed(3.0, 0.4, 1.2, side=side) for side in (-1, 1))
    assert np.linalg.norm(left.ear - right.ear) == pytest.approx(0.17)
    assert left.way()[0] == pytest.approx(right.way()[0])
    assert left.way()[1] != pytest.approx(right.way()[1], abs=0.01)


def test_a_bell_that_points_up_sounds_alike_to_all_sides():
    place = placed(3.0, 0.0, 1.5, bell_up=True, middle=HALL.middle)
    distance, angle = place.way()
    # the ear 0.3 m under the rim: arccos(-0.3/3) by hand
    assert (distance, np.degrees(angle)) == pytest.approx((3.0, 95.739), abs=1e-3)
    ceiling = [r for r in room.images(HALL, place) if r[0] == 1]
    far = np.hypot(np.sqrt(9 - 0.09), 2 * 8.0 - 1.5 - 1.2)
    angles = [np.degrees(a) for _, r, a in ceiling if abs(r - far) < 1e-9]
    # the image over the ceiling looks down: what goes up comes down, near its axis
    assert angles == pytest.approx([np.degrees(np.arccos(13.3 / far))])


@pytest.mark.parametrize("end", ["closed", "node"])
def test_a_closed_end_has_no_room(end):
    place = placed(1.0, 0.0, 1.2, middle=PRACTICE.middle)
    bore = BORE.replaced_end(end)
    assert not np.any(room.reflections(bore, AIR, RATE_HZ, PRACTICE, place))


def test_the_octaves_of_the_noise_are_as_strong_as_those_of_a_white_one():
    n = 48_000
    frequency = np.fft.rfftfreq(n, 1 / RATE_HZ)
    shares = np.mean(room._weights(frequency) ** 2, axis=1)
    assert np.sum(shares) == pytest.approx(1.0)
    found = [np.mean(noise**2) for noise in room._noises(n, RATE_HZ, 1, 0, AIR)]
    assert found == pytest.approx(shares, rel=1e-9)
    # an octave of a white noise is twice as strong as the one below; the ends hold more
    assert shares[2:7] / shares[1:6] == pytest.approx(2.0, rel=0.01)
