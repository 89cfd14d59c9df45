"""Sentences that a teacher reads, from the numbers of a report."""

from itertools import pairwise
from math import log10

from lipmodel.output.report_types import Report
from lipmodel.output.source_sentences import source_sentences
from lipmodel.units import sharp_or_flat

WORDS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
MOST_NAMES = 12
FEW_JUMPS = 2  # told one by one
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
        return [*source_sentences(report), *_level(report)]
    result = [_played(report)]
    if report["notes"]:
        tell = (_went, _octave, _joined, _held, _lipped, _energy, _steep)
        more = [one(report) for one in tell]
        result += [s for s in more if s]
    return result + _unbooked(report) + _level(report)


def _played(report) -> str:
    notes = [n for n in report["notes"] if n["frequency_hz"] is not None]
    notes = [n for i, n in enumerate(notes) if not (i and _same_note(notes[i - 1], n))]
    if not notes:
        breath = max((n["pressure_kpa"] for n in report["notes"]), default=None)
        more = "" if breath is None else f" at {breath:.1f} kPa"
        return f"No note sounded{more}: more breath, or a looser lip setting, would help."
    how = report["inputs"]["notes"]["read_as"]
    names = [n[how] for n in notes[:MOST_NAMES]]
    more = " ..." if len(notes) > MOST_NAMES else ""
    states = {n["state"] for n in notes}
    if states == {"free"}:
        heard = [f for f in report["pitch"]["frequency_hz"] if f is not None]
        low, high = min(heard), max(heard)
        led = f"The pitch followed the lips from {low:.0f} to {high:.0f} Hz"
        if jumps := len(report["jumps"]):
            return f"{led}: nothing held it for long, and it jumped {_times(jumps)} on the way."
        return f"{led}: nothing held it."
    return f"Played {count(len(notes), 'note')}: {' '.join(names)}{more} ({how})."


def _unbooked(report) -> list[str]:
    """A warning where the time loop's steps were too long for the lips; a tension that moves puts
    the player's own work into them, and nothing can be told."""
    energy, rate = report["energy"], report["rate_hz"]
    blown = energy["blown_j"]
    given = blown + energy.get("player_j", 0.0)
    missing = abs(given - energy["into_bore_j"] - energy["lips_and_jet_j"])
    moves = not isinstance(report["inputs"]["player"]["tension_hz"], float)
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
    jumps = report["jumps"]
    jump_count = len(jumps)
    if {n["state"] for n in report["notes"]} == {"free"}:
        return "" if jump_count else "It glided and never jumped."
    if report["inputs"]["player"]["tension_hz"] is None or not jump_count:
        return ""
    summary = f"The pitch held, then jumped {_times(jump_count)}."
    if jump_count > FEW_JUMPS:
        return summary
    each = [
        f"from {j['from']} to {j['to']} at {j['time_s']:.1f} s, when the lips were set to "
        f"{j['tension_hz']:.0f} Hz and the breath was {j['pressure_kpa']:.1f} kPa"
        for j in jumps
    ]
    return f"{summary[:-1]}: {'; '.join(each)}."


def lock_words(lock: float) -> str:
    """How firmly a note is held; what lies outside of 0 to 1 is told by what it means."""
    if lock < 0:
        return "lock less than 0: the pitch moves further than the lips"
    if lock > 1:
        return "lock over 1: the pitch moves against the lips"
    return f"lock {lock:.2f}"


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _octave(report) -> str:
    rows = report.get("heard")
    if not rows:
        return ""
    each = [f"from {r['start_s']:.1f} to {r['end_s']:.1f} s" for r in rows[:FEW_JUMPS]]
    more = " and later" if len(rows) > FEW_JUMPS else ""
    return (
        f"Every second swing of the lips differs {' and '.join(each)}{more}: there it is heard an "
        f"octave lower than drawn, at {rows[0]['frequency_hz']:.0f} Hz."
    )


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
    known = [n for n in report["notes"] if n["lock"] is not None and n["state"] != "free"]
    if not known:
        return ""
    best = max(known, key=lambda n: n["lock"])
    if len(known) == 1 or any(n.get("bend_cents") for n in known):
        note = known[0]
        off = sharp_or_flat(note["cents"])
        return (
            f"{note['written']} (written) sounds at {note['frequency_hz']:.1f} Hz, {off}; "
            f"lips 100 cents tighter would raise it by {100 * (1 - note['lock']):.0f}."
        )
    return f"Held most firmly: {best['written']} (written), {lock_words(best['lock'])}."


def _lipped(report) -> str:
    """How a note changed where it was held lipped away from where it began."""
    rows = [n for n in report["notes"] if n["frequency_hz"] is not None]
    for before, after in pairwise(rows):
        moved = after.get("bend_cents", 0.0) - before.get("bend_cents", 0.0)
        if moved and after["start_s"] <= before["end_s"] + 1.0:
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
    share = energy["radiated_j"] / energy["into_bore_j"]
    return (
        f"Of the energy that entered the tube, {100 * share:.1f} % left the open end; "
        "the rest was lost at the walls and behind the throat."
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
    if level["limited_by_true_peak"]:
        warnings.append(
            f"Kept at {level['lufs']:.1f} LUFS, below the {level['target_lufs']:g} LUFS asked "
            "for: its peaks would have passed -1 dBTP."
        )
    return warnings
