"""Sentences that a teacher reads, from the numbers of a report."""

from lipmodel.units import sharp_or_flat

WORDS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
MOST_NAMES = 12
HEARING_LIMIT = 85.0  # dB(A): NIOSH recommended exposure limit for 8 hours a day


def count(number: int, noun: str) -> str:
    """ "one note", "five notes", "13 notes"."""
    word = WORDS[number] if number < len(WORDS) else str(number)
    return f"{word} {noun}{'' if number == 1 else 's'}"


def sentences(report: dict, jump_count: int, folder: str | None = None) -> list[str]:
    """What was played, how the pitch went, where the energy went, and what to open."""
    told = [_played(report)]
    if report["notes"]:
        told += [s for s in (_went(report, jump_count), _held(report), _energy(report)) if s]
    told += _level(report)
    if folder:
        told.append(f"Open {folder}/listen.html")
    return told


def _played(report) -> str:
    notes = [n for n in report["notes"] if n["frequency_hz"] is not None]
    if not notes:
        breath = max((n["pressure_kpa"] for n in report["notes"]), default=None)
        more = "" if breath is None else f" at {breath:.1f} kPa"
        return f"No note sounded{more}: more breath, or a looser lip setting, would help."
    how = report["inputs"]["notes"]["read_as"]
    names = [n[how] for n in notes[:MOST_NAMES]]
    more = " ..." if len(notes) > MOST_NAMES else ""
    states = {n["state"] for n in notes}
    if states == {"free"}:
        low, high = (f(n["frequency_hz"] for n in notes) for f in (min, max))
        return f"The pitch followed the lips: nothing held it (around {low:.0f} to {high:.0f} Hz)."
    return f"Played {count(len(notes), 'note')}: {' '.join(names)}{more} ({how})."


def _went(report, jump_count) -> str:
    if {n["state"] for n in report["notes"]} == {"free"}:
        jumped = "It glided and never jumped." if not jump_count else ""
        return jumped or f"It jumped {_times(jump_count)} on the way."
    if report["inputs"]["player"]["tension_hz"] is None or not jump_count:
        return ""
    return f"The pitch held, then jumped {_times(jump_count)}."


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _held(report) -> str:
    known = [n for n in report["notes"] if n["lock"] is not None]
    if not known:
        return ""
    best = max(known, key=lambda n: n["lock"])
    if len(known) == 1:
        note = known[0]
        off = sharp_or_flat(note["cents"])
        return (
            f"{note['written']} (written) sounds at {note['frequency_hz']:.1f} Hz, {off}; "
            f"a change of lip setting moves it {100 * (1 - note['lock']):.0f} % as far."
        )
    return f"Held most firmly: {best['written']} (written), lock {best['lock']:.2f}."


def _energy(report) -> str:
    energy = report["energy"]
    if not energy["into_bore_j"] > 0:
        return ""
    share = energy["radiated_j"] / energy["into_bore_j"]
    return (
        f"Of the energy that entered the tube, {100 * share:.1f} % left the open end; "
        "the rest warmed the walls."
    )


def _level(report) -> list[str]:
    level, told = report["level"], []
    fast, distance = level["laf_max_db"], level["distance_m"]
    if fast is not None and fast > HEARING_LIMIT:
        told.append(
            f"A real horn played like this reaches {fast:.0f} dB(A) at {distance:g} m: protect "
            "hearing. Start the file softly, above all on headphones."
        )
    if level["limited_by_true_peak"]:
        told.append(
            f"Kept at {level['lufs']:.1f} LUFS, below the {level['target_lufs']:g} LUFS asked "
            "for: its peaks would have passed -1 dBTP."
        )
    return told
