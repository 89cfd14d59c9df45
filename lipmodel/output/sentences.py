"""Sentences that a teacher reads, from the numbers of a report."""

from itertools import pairwise
from math import log10

from lipmodel.analysis.lock import NUDGE, lock_words
from lipmodel.output.mouth import mouth_sentences
from lipmodel.output.report_types import Report
from lipmodel.output.room import room_sentences
from lipmodel.output.source_sentences import TOLD_SHARE, percent, source_sentences
from lipmodel.output.steadiness import drifts, steadiness_sentences
from lipmodel.output.wording import called, name_of
from lipmodel.studies.notes import MOST_NOTES, ONE_JUMP
from lipmodel.units import cents, sharp_or_flat

WORDS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
MOST_NAMES = 12
FEW_JUMPS = 2  # told one by one
AFTER_VALVES = 0.2  # s after valves began to move, in which they are why a note jumped
FEW_STRETCHES = 3
OCTAVE = 60.0  # cents from an octave that still is one
HELP = "More breath, or a looser lip setting, may help."
STILL = 30.0  # cents: a pitch that moves less stands
TOLD_LOUDNESS = 0.05  # LU: less is no difference to one decimal
BRASSY = 0.5  # of the way to a shock: the second harmonic is up by a quarter of the first
UNBOOKED, TREMBLING = 0.3, 1e-3  # of the blown energy, and J: so much lips may hold at the end
HEARING_LIMIT = 85.0  # dB(A): NIOSH recommended exposure limit for 8 hours a day


def count(number: int, noun: str) -> str:
    """ "one note", "five notes", "13 notes"."""
    word = WORDS[number] if number < len(WORDS) else str(number)
    return f"{word} {noun}{'' if number == 1 else 's'}"


def sentences(report: Report) -> list[str]:
    """What was played, how the pitch went, where the energy went, and what to open."""
    if report.get("source"):
        return [*source_sentences(report), *room_sentences(report), *_level(report)]
    result = [_played(report)]
    if report["notes"]:
        tell = (_went, _octave, _joined, _held, _lipped, _energy, _steep)
        more = [one(report) for one in tell]
        result += [s for s in more if s]
    result += steadiness_sentences(report) + mouth_sentences(report)
    return result + room_sentences(report) + _unbooked(report) + _level(report)


def _played(report) -> str:
    notes = [n for n in report["notes"] if n["frequency_hz"] is not None]
    notes = [n for i, n in enumerate(notes) if not (i and _same_note(notes[i - 1], n))]
    if not notes:
        return _nothing(report)
    swept = _swept(report)
    free = {n["state"] for n in notes} == {"free"}
    if swept and free:
        return _followed(report, notes)
    how = report["inputs"]["notes"]["read_as"]
    if swept and report["slide"]:
        each = [_from_to(report, n, how) for n in notes[:MOST_NAMES]]
        number = f"{count(len(notes), 'glide')} with the slide"
        names = ", ".join(each)
    else:
        number = count(len(notes), "note")
        names = " ".join(n[how] for n in notes[:MOST_NAMES])
    more = " ..." if len(notes) > MOST_NAMES else ""
    least = "at least " if swept and len(report["notes"]) >= MOST_NOTES else ""
    held = f" The tube held {'none of them' if len(notes) > 1 else 'it not'}." if free else ""
    return f"Played {least}{number}: {names}{more} ({how}).{held}"


def _swept(report) -> bool:
    """Whether lip settings were written rather than notes."""
    return report["inputs"]["player"]["tension_hz"] is not None


def _nothing(report) -> str:
    """Why there is no note to name."""
    pitch = report["pitch"]
    heard = sum(f is not None for f in pitch["frequency_hz"])
    if heard:
        seconds = heard * pitch["step_s"]
        told = (
            f"No note to name: a pitch was there for {seconds:.2f} s in all, too short or too "
            "unsteady."
        )
        return told if heard > 0.5 * len(pitch["time_s"]) else f"{told} {HELP}"
    breath = max((n["pressure_kpa"] for n in report["notes"]), default=None)
    if breath is None:
        breath = max(written(report["inputs"]["player"]["pressure_kpa"]), default=None)
    if breath == 0:
        return "No note sounded: nobody blew."
    if any(n["state"] == "unsteady" for n in report["notes"]):
        return f"No note sounded at {breath:.1f} kPa, only a noise without a pitch."
    more = "" if breath is None else f" at {breath:.1f} kPa"
    return f"No note sounded{more}. {HELP}"


def written(value) -> list[float]:
    """The numbers of a number or of breakpoints; none where neither is written."""
    if isinstance(value, list | tuple):
        return [v for _, v in value]
    return [] if value is None else [value]


def _heard_in(report, note) -> list[float]:
    """What the pitch track holds while a note lasts, Hz."""
    pitch = zip(report["pitch"]["time_s"], report["pitch"]["frequency_hz"], strict=True)
    return [f for t, f in pitch if f is not None and note["start_s"] <= t <= note["end_s"]]


def _followed(report, notes) -> str:
    """What lips did that nothing held."""
    heard = [f for n in notes for f in _heard_in(report, n)] or [n["frequency_hz"] for n in notes]
    low, high = min(heard), max(heard)
    jumps = len(report["jumps"])
    one = len(set(written(report["inputs"]["player"]["tension_hz"]))) == 1
    if one and drifts(report):
        led = f"The player drifted, and the pitch moved from {low:.0f} to {high:.0f} Hz"
    elif one:
        if not jumps and cents(high, low) < STILL:
            at = notes[0]["frequency_hz"]
            return f"Lips and pitch stood still, at {at:.0f} Hz: no slot held it."
        led = f"The lips stood still, and the pitch moved from {low:.0f} to {high:.0f} Hz"
    else:
        led = f"The pitch followed the lips from {low:.0f} to {high:.0f} Hz"
    if jumps and len(notes) <= FEW_STRETCHES:
        each = [_heard_in(report, n) for n in notes]
        led = led[: led.rindex(" from ")]
        led += ", then".join(f" from {h[0]:.0f} to {h[-1]:.0f} Hz" for h in each)
    if jumps:
        return f"{led}: nothing held it for long, and it jumped {_times(jumps)} on the way."
    return f"{led}: nothing held it."


def _from_to(report, note, how) -> str:
    heard = _heard_in(report, note)
    ends = [name_of(report, f, how) for f in (heard[0], heard[-1])] if heard else [note[how]]
    return " to ".join(dict.fromkeys(ends))


def _unbooked(report) -> list[str]:
    """A warning where the time loop's steps were too long for the lips; a tension that moves puts
    the player's own work into them, and nothing can be told."""
    energy, rate = report["energy"], report["rate_hz"]
    blown = energy["blown_j"]
    given = blown + energy.get("player_j", 0.0)
    missing = abs(given - energy["into_bore_j"] - energy["lips_and_jet_j"])
    moves = not isinstance(report["inputs"]["player"]["tension_hz"], float) or drifts(report)
    if moves or missing <= UNBOOKED * blown + TREMBLING:
        return []
    share = "more than all" if missing >= blown else f"{100 * missing / blown:.0f} %"
    return [
        f"Do not trust this sound: {share} of the blown energy is not accounted for at the lips, "
        f"for whom steps of 1/{rate:g} s are too long. A higher sound.rate_hz would help."
    ]


def _same_note(before, after) -> bool:
    """Whether a row is the note before it, held lipped elsewhere."""
    return "number" in after and after["number"] == before.get("number")


def _went(report) -> str:
    jumps, notes = report["jumps"], report["notes"]
    if not _swept(report):
        return ""
    states = {n["state"] for n in notes}
    if states == {"free"}:
        moved = len(set(written(report["inputs"]["player"]["tension_hz"]))) > 1
        broken = any(b["start_s"] - a["end_s"] > ONE_JUMP for a, b in pairwise(notes))
        while_ = " while it sounded" if broken else ""
        if jumps:
            return _dropped(report)
        return f"It glided and never jumped{while_}." if moved else ""
    if not jumps:
        return ""
    held = "" if "free" in states or report["slide"] else "held, then "
    least = "at least " if len(notes) >= MOST_NOTES else ""
    summary = f"The pitch {held}jumped {least}{_times(len(jumps))}."
    if len(jumps) > FEW_JUMPS:
        return summary
    each = [
        f"from {called(report, j['from'])} to {called(report, j['to'])} at {j['time_s']:.1f} s"
        f"{_by_valves(report, j['time_s'])}, when the lips were set to {j['tension_hz']:.0f} Hz "
        f"and the breath was {j['pressure_kpa']:.1f} kPa"
        for j in jumps
    ]
    return f"{summary[:-1]}: {'; '.join(each)}."


def _by_valves(report, time) -> str:
    """What valves did that moved just before a jump, s."""
    moves = report["inputs"].get("instrument", {}).get("valve_moves") or ()
    moved = [valves for at, valves in moves if at - 0.05 <= time <= at + AFTER_VALVES]
    if not moved:
        return ""
    if moved[-1] == "0":
        return " as the valves came up"
    return f" as the valves changed to {'-'.join(moved[-1])}"


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _dropped(report) -> str:
    """Where a pitch that nothing holds falls by an octave, or rises back: two swings of the lips
    have become its period, or one again."""
    told = []
    for before, after in pairwise(report["notes"]):
        heard, then = _heard_in(report, before), _heard_in(report, after)
        if not heard or not then:
            continue
        octave = cents(then[0], heard[-1]) / 1200
        if abs(abs(octave) - 1) < OCTAVE / 1200 and len(told) < FEW_JUMPS:
            way, what = ("dropped", "differs") if octave < 0 else ("rose", "is alike again")
            told.append(
                f"At {after['start_s']:.1f} s it {way} by an octave: from there on every "
                f"{'second ' if octave < 0 else ''}swing of the lips {what}."
            )
    return " ".join(told)


def _octave(report) -> str:
    told = []
    for octave, start, there in (
        (-1, "Every second swing of the lips differs {}", "is heard an octave lower than drawn"),
        (1, "Nearly all of the sound lies in every second harmonic {}",
         "may be heard an octave higher than drawn"),
    ):  # fmt: skip
        rows = [r for r in report.get("heard") or () if r["octave"] == octave]
        if not rows:
            continue
        each = [f"from {r['start_s']:.2f} to {r['end_s']:.2f} s" for r in rows[:FEW_JUMPS]]
        more = " and later" if len(rows) > FEW_JUMPS else ""
        where = " and ".join(f"{r['frequency_hz']:.0f}" for r in rows[:FEW_JUMPS])
        spans = f"{' and '.join(each)}{more}"
        told.append(f"{start.format(spans)}: there it {there}, at about {where} Hz.")
    return " ".join(told)


def _joined(report) -> str:
    """How far the level dips where one note goes over into the next."""
    found = [n["join"] for n in report["notes"] if n.get("join")]
    told = []
    for slurred, words in ((True, "slurred"), (False, "tongued")):
        dips = [
            j["dip_db"]
            for j in found
            if (j["kind"] == "slur") == slurred and j["dip_db"] is not None
        ]
        if dips:
            low, high = (f"{max(d, 0):.0f}" for d in (min(dips), max(dips)))
            told.append(f"{low if low == high else f'{low} to {high}'} dB where {words}")
    return f"Between the notes the level dips by {', by '.join(told)}." if told else ""


def _held(report) -> str:
    how = report["inputs"]["notes"]["read_as"]
    known = [n for n in report["notes"] if n["lock"] is not None and n["state"] != "free"]
    if not known:
        return ""
    best = max(known, key=lambda n: n["lock"])
    if len(known) == 1 or any(n.get("bend_cents") for n in known):
        note = known[0]
        off = sharp_or_flat(note["cents"])
        moved = NUDGE * (1 - note["lock"])  # measured with so many cents, and told no further
        way = "raise" if moved >= 0 else "lower"
        where = f"{note[how]} ({how}) sounds at {note['frequency_hz']:.1f} Hz, {off};"
        if _swept(report) and report["slide"]:
            where = f"On the way, at {note['frequency_hz']:.1f} Hz,"
        return f"{where} lips {NUDGE:.0f} cents tighter would {way} it by {abs(moved):.1f}."
    if best["lock"] <= 0:
        return f"None was held: even {best[how]} ({how}) has {lock_words(best['lock'])}."
    return f"Held most firmly: {best[how]} ({how}), {lock_words(best['lock'])}."


def _lipped(report) -> str:
    """How a note changed where it was held lipped away from where it began."""
    rows = [n for n in report["notes"] if n["frequency_hz"] is not None]
    for before, after in pairwise(rows):
        moved = after.get("bend_cents", 0.0) - before.get("bend_cents", 0.0)
        if moved and _same_note(before, after):
            way = "down" if moved < 0 else "up"
            change = 20 * log10(after["mouthpiece_rms_pa"] / before["mouthpiece_rms_pa"])
            how = "weaker" if change < 0 else "stronger"
            held = "" if after["lock"] is None else f", {lock_words(after['lock'])}"
            return (
                f"Lipped {abs(moved):.0f} cents {way} it is {abs(change):.1f} dB {how} in the "
                f"mouthpiece{held}: {after['state']}."
            )
    return ""


def _energy(report) -> str:
    energy = report["energy"]
    if not energy["into_bore_j"] > 0:
        return ""
    entered = energy["into_bore_j"]
    share = energy["radiated_j"] / entered
    small = {"behind the throat": "throat_j", "in valves on their way": "valves_j"}
    places = [k for k, name in small.items() if energy[name] >= TOLD_SHARE * entered]
    *first, last = ["at the walls", *places]
    lost = f"{', '.join(first)} and {last}" if first else last
    still = ""
    if abs(energy["stored_j"]) >= TOLD_SHARE * entered:
        still = f"{100 * energy['stored_j'] / entered:.1f} % was still in the tube at the end; "
    return (
        f"Of the energy that entered the tube, {percent(share)} left the open end; {still}"
        f"the rest was lost {lost}."
    )


def _steep(report) -> str:
    row = report.get("steepening")
    if not row or row["strength"] < BRASSY:
        return ""
    if not row["on"]:
        return (
            "In a real tube a wave this loud would grow steep and sound brassy; here it does not."
        )
    if row["strength"] >= 1:
        return "At its steepest the wave breaks into a shock inside the tube."
    share = 100 * row["strength"]
    return f"The wave grows steep in the tube: at most {share:.0f} % of the way to a shock."


def _level(report) -> list[str]:
    level, warnings = report["level"], []
    fast, distance = level["laf_max_db"], level["distance_m"]
    if fast is not None and fast > HEARING_LIMIT:
        what = "tube" if report.get("source") else "horn played"
        own = level.get("place") == "player"
        where = "the player's own ear" if own else f"{distance:g} m"
        warnings.append(
            f"A real {what} like this reaches {fast:.0f} dB(A) at {where}: protect "
            "hearing. Start the file softly, above all on headphones."
        )
    if level["lufs"] is None:
        warnings.append("The sound file is silent: there is no loudness to match.")
    elif level["limited_by_true_peak"] and level["target_lufs"] - level["lufs"] >= TOLD_LOUDNESS:
        warnings.append(
            f"Kept at {level['lufs']:.1f} LUFS, below the {level['target_lufs']:g} LUFS asked "
            "for: its peaks would have passed -1 dBTP."
        )
    return warnings
