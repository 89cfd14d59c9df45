"""One click into the horn, and what comes back: when, from where, and how it sounds."""

import numpy as np

from lipmodel.acoustics.bell import bell, bell_start
from lipmodel.acoustics.impedance import along, reflectance
from lipmodel.bore.assembly import STEP_TOLD
from lipmodel.player.build import build
from lipmodel.player.cached import kept_resonances
from lipmodel.scene.scene import Scene
from lipmodel.studies.bores import different_bores
from lipmodel.waveguide.impulse_response import echo

SHOWN = 1.7  # times there and back through the longest bore
CLICK = 0.2e-3  # s, width of the click: shorter ones would show every cell
RATE_MARK = 1000.0  # Hz at which viscous delay is told
TURNING = (2, 4, 6)  # partials whose return from the bell is told
STEP = 1.0  # Hz, for a group delay
PHASE_STEP = 4.0  # Hz: less than a tenth of a turn of the longest bell
SAME = 0.1e-3  # s: what comes back within this is told as one
LONGEST = 1.2  # s of each half of the sound
PAUSE = 0.5  # s
PEAK = 0.25  # of full scale: a click startles
FADE = 2e-3  # s


def arrival(bore, air, x, frequency=RATE_MARK) -> np.ndarray:
    """Seconds from the lip end to places `x` in m and back, shape of `x`.

    Twice the group delay along the wave's way, -dphi/dw of exp(-gamma s), at `frequency` in Hz:
    2 s/c and what walls slow it down.  What a cone or a step does to the phase is no delay.
    """
    omega = 2 * np.pi * np.array([frequency - STEP, frequency + STEP])
    parts = list(along(bore, air, omega))
    pieces = parts[0][0]
    slow = [np.diff(g.imag)[0] / np.diff(omega)[0] * pieces.length[i] for _, i, g, _ in parts]
    edge = np.concatenate([pieces.x, [bore.length]])
    return 2 * np.interp(x, edge, np.concatenate([[0.0], np.cumsum(slow)]))


def bell_delay(bore, air, frequency) -> np.ndarray:
    """Group delay -dphi/dw in s of the bell's own reflection at `frequency` in Hz, (n,).

    How long the bell keeps a wave packet.  Not longer for high notes: a low one turns earlier,
    but creeps on its way there.
    """
    frequency = np.atleast_1d(np.asarray(frequency, float))
    mirror = bell(bore)
    low, high = (reflectance(mirror, air, frequency + d) for d in (-STEP, STEP))
    return -np.angle(high / low) / (4 * np.pi * STEP)


def wall_delay(bore, air, frequency) -> np.ndarray:
    """Phase delay -phi/w in s of the bell's own reflection against that of a pressure node at
    its start, at `frequency` in Hz, (n,).

    There and back to the place where an open end would do to this frequency what the bell does:
    what tunes the partials.
    """
    frequency = np.atleast_1d(np.asarray(frequency, float))
    grid = np.arange(PHASE_STEP, frequency.max() + PHASE_STEP, PHASE_STEP)
    phase = np.unwrap(np.angle(-reflectance(bell(bore), air, grid)))
    return -np.interp(frequency, grid, phase) / (2 * np.pi * frequency)


def marks(bore, air) -> list[dict]:
    """Places that send something back: name, x_m and time_s, from the lips on."""
    places = []
    cup = next((s for s in bore.sections if s.shape == "mouthpiece"), None)
    if cup is not None:
        inside = (bore.x >= cup.start) & (bore.x <= cup.end)
        places.append(("throat", bore.x[inside][np.argmin(bore.radius[inside])]))
    names = [s.name for s in bore.sections]
    for i, section in enumerate(bore.sections[1:], 1):
        if section.name != names[i - 1]:
            places.append((f"{section.name} begins", section.start))
    for x, before, after in bore.steps:
        if abs(np.log(after / before)) > STEP_TOLD:
            places.append(("step", x))
    times = arrival(bore, air, np.array([x for _, x in places]))
    rows = [
        {"name": name, "x_m": float(x), "time_s": float(t)}
        for (name, x), t in zip(places, times, strict=True)
    ]
    return sorted(rows, key=lambda r: r["time_s"])


def returns(bore, air) -> list[dict]:
    """When low and high partials come back from the bell: n, frequency_hz; time_s as from an open
    end (`wall_delay`); group_s, of a wave packet (`bell_delay`); both from the lips."""
    resonances = [r for r in kept_resonances(bore, air) if r.n in TURNING]
    if not resonances:
        return []
    frequency = np.array([r.frequency for r in resonances])
    start = bore.length - bell(bore).length
    tube = np.array([float(arrival(bore, air, start, f)) for f in frequency])
    as_wall = tube + wall_delay(bore, air, frequency)
    group = tube + bell_delay(bore, air, frequency)
    return [
        {"n": r.n, "frequency_hz": r.frequency, "time_s": float(t), "group_s": float(g)}
        for r, t, g in zip(resonances, as_wall, group, strict=True)
    ]


def echoes(scene: Scene) -> dict:
    """The click and its echoes for every different bore of a scene, as written first.

    members: name, response (pressure that comes back over the height of the click, every
    1/rate_hz s), end_s (there and back to the open end); for the first one also marks, returns,
    way_s and radius_m (the bore against the time its echo takes) and sound (-1 to 1);
    sentences.
    """
    cast = different_bores(scene)
    rate = float(scene.sound.rate_hz)
    ends = [float(arrival(bore, air, bore.length)) for _, bore, air, _ in cast]
    size = int(SHOWN * max(ends) * rate)
    members = []
    for (name, _, _, one), end in zip(cast, ends, strict=True):
        response = _softened(build(one).horn.ladder, rate, size)
        members.append({"name": name, "response": response, "end_s": end})
    _, bore, air, _ = cast[0]
    x = np.linspace(0, bore.length, 400)
    result = {
        "rate_hz": rate, "members": members, "marks": marks(bore, air),
        "returns": returns(bore, air), "bell_m": bell_start(bore),
        "way_s": arrival(bore, air, x), "radius_m": bore.radius_at(x),
        "sound": _sound(build(scene).horn.ladder, rate),
    }  # fmt: skip
    result["sentences"] = _sentences(result)
    return result


def _softened(ladder, rate, size):
    """The answer to a click of finite width (Hann) and of height 1 at time 0, shape (size,)."""
    half = int(CLICK * rate)
    response = echo(ladder, size + half)
    return np.convolve(response, np.hanning(2 * half + 1))[half : half + size]


def _sound(ladder, rate):
    """The click with its echoes into lips that swallow what returns, a pause, and the same with
    lips that are shut: then every echo sets out again, p = (1 + R)/(1 - R) of the click."""
    n, quiet, half = int(LONGEST * rate), int(FADE * rate), int(CLICK * rate)
    click = np.zeros(n)
    click[quiet : quiet + 2 * half + 1] = np.hanning(2 * half + 1)
    r = np.fft.rfft(echo(ladder, n), 4 * n)  # room for all that still rings
    sent = np.fft.rfft(click, 4 * n)
    rise = np.minimum(1, np.arange(n) / quiet)
    parts = []
    for what in (1 + r, (1 + r) / (1 - r)):
        heard = np.fft.irfft(sent * what, 4 * n)[:n] * rise * rise[::-1]
        parts.append(PEAK * heard / np.abs(heard).max())
    return np.concatenate([parts[0], np.zeros(int(PAUSE * rate)), parts[1]])


def _sentences(echo) -> list[str]:
    sentences = []
    rows, end = echo["returns"], 1e3 * echo["members"][0]["end_s"]
    if rows and rows[-1]["time_s"] - rows[0]["time_s"] > SAME:
        low, high = rows[0], rows[-1]
        sentences.append(
            f"Partial {low['n']} comes back from the bell as from an open end "
            f"{1e3 * low['time_s']:.1f} ms away, partial {high['n']} from "
            f"{1e3 * high['time_s']:.1f} ms, and the rim is at {end:.1f} ms: a bell is not a "
            "place (echo.png)."
        )
    elif rows:
        sentences.append(
            f"High and low notes come back from the open end after the same {end:.1f} ms "
            "(echo.png)."
        )
    sentences.append(
        "echo.wav: one click into lips that swallow its echoes; then the same with the lips shut, "
        "when every echo sets out again and the horn rings."
    )
    return sentences
