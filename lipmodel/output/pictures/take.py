"""What was played: pitch over the resonances, pressures, and a close look at three periods."""

from itertools import pairwise

import numpy as np
from matplotlib.ticker import MaxNLocator, NullLocator

from lipmodel.output.pictures.colours import AIR_COLUMN, BREATH, INK, LIPS, PAPER, SOUND
from lipmodel.output.pictures.style import (
    SMALL,
    THICK,
    THIN,
    new_figure,
    shown,
    size_in_pixels,
    spread,
    styled,
)
from lipmodel.output.wording import heading, name_first, transposition
from lipmodel.units import note_frequency, note_name, sharp_or_flat

COLUMNS = 500  # steps in time of an envelope or a slow curve: about two px each
MOST_PITCHES = 4000  # points of the pitch line
WIDEST_NAMED = 2 ** (1 / 12)  # a free note that moves further is a glide, not a note with a name
MOST_NAMED = 12  # notes; more names than that hide the curve
PERIODS = 3
PERIOD_WITHOUT_PITCH = 1 / 300  # s
LABEL_HEIGHT = 24  # px from one text line to the next
LETTER_WIDTH, NAME_HEIGHT = 20, 30  # px, of a note's name in bold
NAME_DISTANCE = 29  # px from a plateau to the middle of its name
PRESSURE_TICKS, ROUND_STEPS = 5, (1, 2, 5, 10)
ROOM = 2 ** (3 / 12)  # three semitones above and below what is drawn
SMALLEST_RANGE = 2.0  # an octave
BARE_RANGE = (100.0, 1000.0)  # Hz, where there is nothing to draw
TICK_STEPS = (0, 7, 4, 9, 2, 5, 11)  # C first, then G, E, A ... as long as there is room


@styled
def played_figure(report: dict, traces: dict):
    """Picture of one run, a matplotlib `Figure` of 1600 x 1200 px.

    `report` is the dict of report.json, `traces` holds the arrays of traces.npz: SI, shape (n,),
    at `report["rate_hz"]`.
    """
    figure = new_figure(heading(report))
    grid = figure.add_gridspec(
        3,
        1,
        height_ratios=(5.2, 2, 2.1),
        hspace=0.38,
        left=0.115,
        right=0.81,  # beside it "12  Bb6 48 cents sharp" in bold
        top=0.9,
        bottom=0.07,
    )
    pitch_axes = figure.add_subplot(grid[0])
    pressure_axes = figure.add_subplot(grid[1], sharex=pitch_axes)
    close_axes = figure.add_subplot(grid[2])
    draw_pitch(pitch_axes, report, traces)
    _draw_pressures(pressure_axes, traces)
    _draw_periods(close_axes, report, traces)
    return figure


def _pitch(report):
    """Times in s and frequencies in Hz (nan where silent), at most MOST_PITCHES of each."""
    time = np.asarray(report["pitch"]["time_s"], float)
    frequency = np.array(report["pitch"]["frequency_hz"], float)  # None becomes nan
    step = max(1, -(-len(time) // MOST_PITCHES))
    return time[::step], frequency[::step]


def draw_pitch(axes, report, traces):
    """Pitch over the resonances with the lip setting; `report` and `traces` as above."""
    time, frequency = _pitch(report)
    step = max(1, len(traces["tension_hz"]) // COLUMNS)
    tension = traces["tension_hz"][::step]
    octaves = _heard(report, time, frequency)
    low, high = _range(np.r_[frequency, octaves], tension, report["resonances"])
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    axes.set_xlim(0.0, report["length_s"])
    axes.set_xlabel("Time in s")
    axes.set_ylabel(f"Frequency in Hz\n({name_first(report)} notes)")
    _draw_resonances(axes, report)
    setting = np.where(tension > 0, tension, np.nan)
    lips = {"color": LIPS, "linewidth": THIN, "label": "lip setting (not the note)"}
    axes.plot(traces["time_s"][::step], setting, **lips)
    sound = {"color": SOUND, "linewidth": THICK, "solid_joinstyle": "round"}
    axes.plot(time, frequency, label="playing frequency", **sound)
    if np.isfinite(octaves).any():
        heard = {"color": SOUND, "linewidth": THICK, "linestyle": (0, (0.5, 0.7))}
        axes.plot(time, octaves, label="what is heard there", **heard)
    _draw_ticks(axes, report)
    if not np.isfinite(frequency).any():
        middle = {"ha": "center", "va": "center", "transform": axes.transAxes}
        axes.text(0.5, 0.5, "no sound", fontsize=2 * SMALL, backgroundcolor=PAPER, **middle)
    _name_notes(axes, _with_a_name(report), name_first(report), traces)
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 0.99), ncols=4, reverse=True)


def _heard(report, time, frequency):
    """Hz of what is heard where that is another octave than the pitch in the mouthpiece; else
    nan."""
    octaves = np.full(len(time), np.nan)
    for row in report.get("heard") or ():
        inside = (time >= row["start_s"]) & (time <= row["end_s"])
        octaves[inside] = frequency[inside] * 2.0 ** row["octave"]
    return octaves


def _range(frequency, tension, resonances):
    """Lowest and highest frequency in Hz to draw: pitch and lip setting with room around."""
    drawn = np.concatenate([frequency[np.isfinite(frequency)], tension[tension > 0]])
    if not len(drawn):
        drawn = np.array([r["frequency_hz"] for r in resonances] or BARE_RANGE)
    low, high = drawn.min() / ROOM, drawn.max() * ROOM
    widen = max(1.0, np.sqrt(SMALLEST_RANGE / (high / low)))
    return low / widen, high * widen


def _draw_resonances(axes, report):
    """A thin line for each resonance in sight; names at the right, those played first."""
    low, high = axes.get_ylim()
    played = {note.get("partial") for note in report["notes"]}
    time, curves, names = _resonance_lines(report)
    inside = [n for n in curves if np.any((curves[n] > low) & (curves[n] < high))]
    inside.sort(key=lambda n: n not in played)
    label = "resonance of the air column"
    for n in inside:
        line = {"color": AIR_COLUMN, "linewidth": 1.2, "linestyle": (0, (1, 2)), "zorder": 1}
        axes.plot(time, curves[n], label=label, **line)
        label = None
    _, height = size_in_pixels(axes)
    inside = [n for n in inside if low < curves[n][-1] < high]
    places = height * np.log([curves[n][-1] / low for n in inside]) / np.log(high / low)
    for i in spread(places, LABEL_HEIGHT):
        n = inside[i]
        axes.text(
            1.01,
            curves[n][-1],
            names[n],
            transform=axes.get_yaxis_transform(),
            va="center",
            color=INK if n in played else AIR_COLUMN,
            fontweight="bold" if n in played else "normal",
            fontsize=SMALL,
        )


def _resonance_lines(report):
    """Times in s, {number: Hz at these times} and {number: its name}; along a moving slide if
    there is one: then a resonance is no one note."""
    which, slide = name_first(report), report.get("slide")
    if not slide:
        rows = report["resonances"]
        curves = {r["n"]: np.full(2, r["frequency_hz"]) for r in rows}
        names = {r["n"]: f"{r['n']}  {r[which]} {sharp_or_flat(r['cents'])}" for r in rows}
        return np.array([0.0, report["length_s"]]), curves, names
    step = max(1, len(slide["time_s"]) // COLUMNS)
    time, position = (np.array(slide[key])[::step] for key in ("time_s", "position"))
    heights = np.log(np.array(slide["resonances_hz"])).T
    curves = {
        n: np.exp(np.interp(position, slide["positions"], height))
        for n, height in enumerate(heights, 1)
    }
    return time, curves, {n: f"{n}" for n in curves}


def _draw_ticks(axes, report):
    """Ticks at notes of C major as there is room, named and in Hz."""
    notes = report.get("inputs", {}).get("notes", {})
    a4, spelling = notes.get("a4_hz", 440.0), notes.get("spelling", "flats")
    shift = transposition(report) if name_first(report) == "written" else 0
    low, high = axes.get_ylim()
    _, height = size_in_pixels(axes)
    wanted = [m for step in TICK_STEPS for m in range(12 + step, 140, 12)]
    tones = [(m, note_frequency(m - shift, a4)) for m in wanted]
    tones = [(m, f) for m, f in tones if low <= f <= high]
    places = [height * np.log(f / low) / np.log(high / low) for _, f in tones]
    kept = [tones[i] for i in spread(places, 1.4 * LABEL_HEIGHT)]
    labels = [f"{note_name(m, spelling)}  {f:.0f}" for m, f in kept]
    axes.set_yticks([f for _, f in kept], labels)
    axes.yaxis.set_minor_locator(NullLocator())


def _with_a_name(report):
    """The notes that one name fits: sounding, and not a free glide over many names."""
    time, frequency = _pitch(report)
    which, fitting = name_first(report), []
    for note in report["notes"]:
        if note.get("frequency_hz") and note.get(which):
            track = frequency[(time >= note["start_s"]) & (time <= note["end_s"])]
            track = track[np.isfinite(track)]
            glides = len(track) and track.max() > WIDEST_NAMED * track.min()
            if not (note.get("state") == "free" and glides):
                fitting.append(note)
    return fitting


def _name_notes(axes, notes, which, traces):
    """Each note's name over the middle of its plateau; under it where the lip setting passes
    or another name stands."""
    if len(notes) > MOST_NAMED:
        return
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    width, height = size_in_pixels(axes)

    def across(time):
        return width * (time - left) / (right - left)

    def up(frequency):
        return height * np.log(frequency / low) / np.log(high / low)

    taken: list[tuple[float, float, float]] = []
    for note in notes:
        time = (note["start_s"] + note["end_s"]) / 2
        half = LETTER_WIDTH * len(note[which]) / 2
        x, y = np.clip(across(time), half, width - half), up(note["frequency_hz"])
        setting = traces["tension_hz"][_sample(traces, time)]
        passing = up(max(setting, low))
        sides = (-1, 1) if 0 < passing - y < 2 * LABEL_HEIGHT else (1, -1)
        for above in sides:
            place = y + above * NAME_DISTANCE
            if all(
                abs(x - x2) > half + half2 or abs(place - y2) > NAME_HEIGHT
                for x2, y2, half2 in taken
            ):
                taken.append((x, place, half))
                time = left + x / width * (right - left)
                _name_one(axes, note[which], (time, note["frequency_hz"]), above)
                break


def _name_one(axes, name, place, above):
    axes.annotate(
        name,
        place,
        xytext=(0, 11 * above),
        textcoords="offset points",
        ha="center",
        va="bottom" if above > 0 else "top",
        color=SOUND,
        fontweight="bold",
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1},
    )


def _sample(traces, time) -> int:
    """Number of the sample nearest to `time` s."""
    times = traces["time_s"]
    return int(np.clip(round(time / max(times[1] - times[0], 1e-9)), 0, len(times) - 1))


def _envelope(signal):
    """Lowest and highest value in each of about COLUMNS steps, and the first sample of each."""
    starts = np.unique(np.linspace(0, len(signal), COLUMNS, endpoint=False).astype(int))
    steps = (signal[a:b] for a, b in pairwise([*starts, len(signal)]))
    low, high = np.array([(np.min(values), np.max(values)) for values in steps], float).T
    return low, high, starts


def _draw_pressures(axes, traces):
    low, high, at = _envelope(traces["mouthpiece_pressure_pa"])
    low, high, time = low / 1000, high / 1000, traces["time_s"][at]
    cup = {"color": SOUND, "linewidth": 0.5, "alpha": 0.45, "label": "in the\nmouthpiece"}
    axes.fill_between(time, low, high, **cup)
    _, mouth, _ = _envelope(traces["mouth_pressure_pa"])
    axes.plot(time, mouth / 1000, color=BREATH, linewidth=3.0, label="in the\nmouth")
    if not (high.any() or low.any() or mouth.any()):
        axes.set_ylim(-1, 1)
    axes.yaxis.set_major_locator(MaxNLocator(PRESSURE_TICKS, steps=ROUND_STEPS))
    axes.set_xlabel("Time in s")
    axes.set_ylabel("Pressure\nin kPa")
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), reverse=True, borderaxespad=0.2)


def _where_to_look(report, traces):
    """Time in s, period in s and words for the close look: the longest note, else the loudest."""
    sounding = [n for n in report["notes"] if n.get("frequency_hz")]
    if sounding:
        note = max(sounding, key=lambda n: n["end_s"] - n["start_s"])
        name = note[name_first(report)] if note in _with_a_name(report) else ""
        middle = (note["start_s"] + note["end_s"]) / 2
        return (
            middle,
            1 / note["frequency_hz"],
            f"three periods in the longest note {name}".rstrip(),
        )
    low, high, at = _envelope(traces["mouthpiece_pressure_pa"])
    middle = float(traces["time_s"][at[np.argmax(high - low)]])
    time, frequency = _pitch(report)
    known = np.flatnonzero(np.isfinite(frequency))
    if not len(known):
        return middle, PERIOD_WITHOUT_PITCH, "no sound"
    near = known[np.argmin(np.abs(time[known] - middle))]
    return middle, 1 / frequency[near], "three periods where it is loudest"


def _draw_periods(axes, report, traces):
    middle, period, words = _where_to_look(report, traces)
    rate, size = report["rate_hz"], len(traces["time_s"])
    count = min(size, max(2, round(PERIODS * period * rate)))
    first = int(np.clip(round(middle * rate) - count // 2, 0, size - count))
    part = slice(first, first + count)
    time = np.arange(count) / rate * 1000
    pressure = traces["mouthpiece_pressure_pa"][part] / 1000
    axes.plot(time, pressure, color=SOUND, linewidth=3.0)
    axes.set_xlim(0, time[-1])
    if not pressure.any():
        axes.set_ylim(-1, 1)
    axes.yaxis.set_major_locator(MaxNLocator(PRESSURE_TICKS, steps=ROUND_STEPS))
    start = f"{first / rate:.2f} s"
    axes.set_xlabel(shown(f"Time in ms from {start}: {words}"))
    axes.set_ylabel("Mouthpiece\npressure\nin kPa", color=SOUND)
    opening = axes.twinx()
    opening.spines["right"].set_visible(True)
    area = traces["lip_opening_m2"][part] * 1e6
    opening.plot(time, area, color=LIPS, linewidth=3.0, linestyle=(0, (5, 2)))
    opening.set_ylabel("Lip opening\nin mm²", color=LIPS)
    opening.yaxis.set_major_locator(MaxNLocator(PRESSURE_TICKS, steps=ROUND_STEPS))
    opening.set_ylim(0, max(1.0, 1.1 * float(area.max())))
