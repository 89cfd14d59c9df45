"""Every sentence of a take worked out once more from the other numbers of its report.json.

Each `Rule` is written from what the sentence says to a reader; nothing here calls the code that
made it.  `untrue` tells sentences that no rule knows or that a rule refutes, and `missing` what a
report should have told and does not.
"""

import re
from itertools import pairwise

import numpy as np
from support.told import (
    SILENCE,
    cents,
    close,
    leaps,
    lock_told,
    number,
    off_name,
    pattern,
    stretches,
    times,
    track,
)
from support.true_levels import LEVELS
from support.true_mouth import MOUTH
from support.true_room import ROOM, untold_room
from support.true_steadiness import STEADINESS, STEADY, drifts
from support.true_studies import STUDIES


def rows(report):
    return [n for n in report["notes"] if n["frequency_hz"] is not None]


def notes(report):
    """Rows that are notes of their own: a note lipped elsewhere is the same note."""
    kept = []
    for row in rows(report):
        if not (kept and row.get("number") and row["number"] == kept[-1].get("number")):
            kept.append(row)
    return kept


def swept(report) -> bool:
    return report["inputs"]["player"]["tension_hz"] is not None


def at(value, time) -> float:
    """A number or breakpoints, at a moment."""
    if isinstance(value, list):
        value = np.interp(time, *zip(*value, strict=True))
    return float(value)


def moves(value) -> bool:
    return isinstance(value, list) and len({v for _, v in value}) > 1


def heard_in(report, note):
    t, hz = track(report)
    part = hz[(t >= note["start_s"]) & (t <= note["end_s"])]
    return part[np.isfinite(part)]


def least(m, count, real) -> bool:
    return count >= 60 if m.groupdict().get("least") else count == real


def played(report, m) -> bool:
    real, names, how = notes(report), m["names"].removesuffix(" ...").split(), m["how"]
    if (report["slide"] and swept(report)) or how != report["inputs"]["notes"]["read_as"]:
        return False
    good = least(m, number(m["count"]), len(real)) and len(names) == min(len(real), 12)
    for name, note in zip(names, real, strict=False):
        good &= abs(off_name(report, note["frequency_hz"], name, how)) <= 50.01
        part = heard_in(report, note)
        # held notes sound nearly all the time, at what the row says
        good &= len(part) > 0 and np.min(np.abs(1200 * np.log2(part / note["frequency_hz"]))) < 10
    if swept(report):
        good &= len(stretches(report)) == len(real) or bool(m["least"])
    free = {n["state"] for n in real} == {"free"}
    held = {None: not free, " The tube held it not.": free and len(real) == 1,
            " The tube held none of them.": free and len(real) > 1}  # fmt: skip
    return bool(good) and held[m["held"]]


def glides(report, m) -> bool:
    real, each, how = notes(report), m["names"].removesuffix(" ...").split(", "), m["how"]
    good = number(m["count"]) == len(real) and report["slide"] and swept(report)
    for words, note in zip(each, real, strict=True):
        names, part = words.split(" to "), heard_in(report, note)
        good = good and abs(off_name(report, part[0], names[0], how)) <= 50.01
        good = good and abs(off_name(report, part[-1], names[-1], how)) <= 50.01
    return bool(good)


def nothing(report, m) -> bool:
    heard = np.isfinite(track(report)[1]).any()
    player = report["inputs"]["player"]
    breath = [n["pressure_kpa"] for n in report["notes"]]
    written = player["pressure_kpa"]
    breath = breath or [v for _, v in written] if isinstance(written, list) else breath or [written]
    quiet = not rows(report) and not heard
    if m["kpa"]:
        quiet &= close(m["kpa"], max(breath), 0.05)
    unsteady = any(n["state"] == "unsteady" for n in report["notes"])
    why = {"nobody": max(breath) == 0, "noise": unsteady, "may": max(breath) > 0 and not unsteady}
    return bool(quiet) and why[next(k for k in why if k in m["why"])]


def unnamed(report, m) -> bool:
    heard = np.isfinite(track(report)[1]).sum() * 0.01
    most = np.isfinite(track(report)[1]).mean() > 0.5
    said = close(m["s"], heard, 0.005) and bool(m["help"]) != most
    return not rows(report) and heard > 0 and said


def followed(report, m) -> bool:
    real, player = notes(report), report["inputs"]["player"]
    heard = np.concatenate([heard_in(report, n) for n in real])
    good = {n["state"] for n in real} == {"free"} and swept(report)
    good &= all(n["lock"] is None or n["lock"] < 0.5 for n in real)
    how = "followed" if moves(player["tension_hz"]) else "drifted" if drifts(report) else "stood"
    good &= how in m["how"]
    spans = [float(f) for f in re.findall(r"\d+", m["spans"])]
    parts = [heard_in(report, n) for n in real]
    whole = [heard.min(), heard.max()]
    ends = whole if len(spans) == 2 else [f for part in parts for f in (part[0], part[-1])]
    good &= len(spans) == len(ends)
    good &= all(close(a, b, 0.5) for a, b in zip(spans, ends, strict=False))
    if moves(player["tension_hz"]):  # up where the lips go up
        for i, j in stretches(report):
            t, hz = (x[i:j] for x in track(report))
            setting = [at(player["tension_hz"], s) for s in t]
            good &= len(t) < 20 or np.corrcoef(np.log(setting), np.log(hz))[0, 1] > 0.8
    return bool(good) and len(leaps(report)) == (times(m["times"]) if m["times"] else 0)


def dropped(report, m) -> bool:
    """The sound's own autocorrelation: one swing like the next before a drop, not after it."""
    near = [(s, a, b) for s, a, b in leaps(report) if abs(s - float(m["s"])) < 0.12]
    down = m["way"] == "dropped"
    if not near or abs(cents(near[0][2], near[0][1]) - (-1200 if down else 1200)) > 60:
        return False
    words = ("second swing", "differs") if down else ("swing", "is alike again")
    if "sound" not in report:
        return (m["what"], m["how"]) == words
    when, a, b = near[0]
    fast, after = max(a, b), when + 0.15 if down else when - 0.25
    one, two = periodicity(*report["sound"], after, fast)
    return (m["what"], m["how"]) == words and two > one


def stood(report, m) -> bool:
    (real, *more), player = notes(report), report["inputs"]["player"]
    part = heard_in(report, real)
    good = not more and real["state"] == "free" and not moves(player["tension_hz"])
    good = good and not drifts(report)
    good &= close(m["hz"], real["frequency_hz"], 0.5) and cents(part.max(), part.min()) < 30
    return bool(good) and not leaps(report)


def glided(report, m) -> bool:
    gaps = [np.isnan(track(report)[1][b:c]).sum() > SILENCE
            for (_, b), (c, _) in pairwise(stretches(report))]  # fmt: skip
    good = swept(report) and moves(report["inputs"]["player"]["tension_hz"]) and not leaps(report)
    return bool(good) and {n["state"] for n in notes(report)} == {"free"} and (
        bool(m["while"]) == any(gaps)
    )  # fmt: skip


EACH = pattern(
    "from {a:N} to {b:N} at {s:n} s, when the lips were set to {hz:i} Hz and the breath was "
    "{kpa:n} kPa"
)


def jumped(report, m) -> bool:
    found, player = leaps(report), report["inputs"]["player"]
    how = report["inputs"]["notes"]["read_as"]
    held = not any(n["state"] == "free" for n in rows(report)) and not report["slide"]
    good = least(m, times(m["times"]), len(found)) and bool(m["held"]) == held
    each = m["each"].split("; ") if m["each"] else []
    if len(each) != (len(found) if len(found) <= 2 else 0):
        return False
    for words, (when, before, after) in zip(each, found, strict=False):
        e = re.fullmatch(EACH, words)
        good &= abs(float(e["s"]) - when) < 0.11
        # a note goes by its name up to a semitone from its pitch, which may lie half of one off
        good &= abs(off_name(report, before, e["a"], how)) < 155
        good &= abs(off_name(report, after, e["b"], how)) < 155
        around = [at(player["tension_hz"], when + d) for d in (-0.06, 0.06)]
        blown = [at(player["pressure_kpa"], when + d) for d in (-0.06, 0.06)]
        good &= min(around) - 1 <= float(e["hz"]) <= max(around) + 1
        good &= min(blown) - 0.06 <= float(e["kpa"]) <= max(blown) + 0.06
    return bool(good)


def octave(report, m) -> bool:
    """The sound's own autocorrelation is the judge (`sound`, put there by who asks)."""
    if "sound" not in report:
        return True
    (samples, rate), (t, hz) = report["sound"], track(report)
    told = [float(v) for v in re.findall(r"[\d.]+", m["spans"])]
    low = m["way"] == "is heard an octave lower"
    for begin, end in zip(told[::2], told[1::2], strict=True):
        inside = (t > begin + 0.02) & (t < end - 0.05) & np.isfinite(hz)
        pairs = zip(t[inside], hz[inside], strict=True)
        found = [periodicity(samples, rate, s, f if low else 2 * f) for s, f in pairs]
        so = [a < 0.9 and b > a + 0.1 if low else a > 0.85 and b > a - 0.02 for a, b in found]
        around = np.median(hz[inside]) * (0.5 if low else 2)
        near = [abs(cents(float(f), around)) < 100 for f in m["hz"].split(" and ")]
        if not (np.mean(so) > 0.9 and any(near)):
            return False
    return bool(told)


def periodicity(samples, rate, time, frequency):
    """Normalised autocorrelation over 50 ms, at one period and at two."""
    first, size = round(time * rate), round(0.05 * rate)
    still = samples[first : first + size]
    moved = [samples[first + round(n * rate / frequency) :][:size] for n in (1, 2)]
    return [float(still @ x / np.sqrt((still @ still) * (x @ x))) for x in moved]


def known_locks(report):
    return [n for n in report["notes"] if n["lock"] is not None and n["state"] != "free"]


def one_held(report, m) -> bool:
    note = known_locks(report)[0]
    cent = off_name(report, note["frequency_hz"], m["name"], m["how"])
    told = 0 if m["off"] == "in tune" else int(m["off"].split()[0])
    told = -told if m["off"].endswith("flat") else told
    moved = 10 * (1 - note["lock"])
    moved = moved if m["way"] == "raise" else -moved
    return (close(m["hz"], note["frequency_hz"], 0.05) and close(told, cent, 0.56)
            and moved >= 0 and close(m["moved"], moved, 0.05))  # fmt: skip


def on_the_way(report, m) -> bool:
    note = known_locks(report)[0]
    moved = 10 * (1 - note["lock"]) * (1 if m["way"] == "raise" else -1)
    good = report["slide"] and swept(report) and moved >= 0
    return good and close(m["hz"], note["frequency_hz"], 0.05) and close(m["moved"], moved, 0.05)


def firmest(report, m) -> bool:
    known = known_locks(report)
    best = max(known, key=lambda n: n["lock"])
    good = abs(off_name(report, best["frequency_hz"], m["name"], m["how"])) <= 50.01
    held = m[0].startswith("Held")
    return (
        len(known) > 1
        and good
        and lock_told(m["lock"], best["lock"])
        and (best["lock"] > 0) == held
    )


def lipped(report, m) -> bool:
    for a, b in pairwise(rows(report)):
        moved = b.get("bend_cents", 0) - a.get("bend_cents", 0)
        if a.get("number") == b.get("number") and moved:
            change = 20 * np.log10(b["mouthpiece_rms_pa"] / a["mouthpiece_rms_pa"])
            way, how = ("down", "up")[int(moved > 0)], ("weaker", "stronger")[int(change >= 0)]
            good = (m["way"], m["how"], m["state"]) == (way, how, b["state"])
            told = b["lock"] is None if m["lock"] is None else lock_told(m["lock"], b["lock"])
            return (
                good
                and told
                and close(m["c"], abs(moved), 0.5)
                and close(m["db"], abs(change), 0.05)
            )
    return False


RULES = {
    "Played <least:at least >{count:w} note<s:s>: {names:t} ({how:w}).<held: The tube held "
    "{rest:t}.>": played,
    "Played {count:w} glide<s:s> with the slide: {names:t} ({how:w}).": glides,
    "No note sounded<at: at {kpa:n} kPa>{why:t}.": nothing,
    "No note to name: a pitch was there for {s:n} s in all, too short or too "
    "unsteady.<help: More breath, or a looser lip setting, may help.>": unnamed,
    "{how:H}{spans:t} Hz: nothing held it<more: for long, and it jumped "
    "{times:T} on the way>.": followed,
    "Lips and pitch stood still, at {hz:i} Hz: no slot held it.": stood,
    "At {s:n} s it {way:w} by an octave: from there on every {what:t} of the lips {how:t}.":
    dropped,
    "It glided and never jumped<while: while it sounded>.": glided,
    "The pitch <held:held, then >jumped <least:at least >{times:T}<told:: {each:t}>.": jumped,
    "Every second swing of the lips differs {spans:t}: there it {way:t} than drawn, at about "
    "{hz:t} Hz.": octave,
    "Nearly all of the sound lies in every second harmonic {spans:t}: there it {way:t} than drawn, "
    "at about {hz:t} Hz.": octave,
    "{name:N} ({how:w}) sounds at {hz:n} Hz, {off:t}; lips 10 cents tighter would {way:w} it "
    "by {moved:n}.": one_held,
    "On the way, at {hz:n} Hz, lips 10 cents tighter would {way:w} it by {moved:n}.": on_the_way,
    "Held most firmly: {name:N} ({how:w}), {lock:L}.": firmest,
    "None was held: even {name:N} ({how:w}) has {lock:L}.": firmest,
    "Lipped {c:i} cents {way:w} it is {db:n} dB {how:w} in the mouthpiece<more:, {lock:L}>: "
    "{state:w}.": lipped,
    **LEVELS,
    **MOUTH,
    **ROOM,
    **STEADINESS,
    **STUDIES,
}  # fmt: skip


def untrue(report) -> list[str]:
    """The sentences of a report that are not so, or that nobody checks."""
    told = []
    for sentence in report["sentences"]:
        found = [(m, rule) for words, rule in RULES.items()
                 if (m := re.fullmatch(pattern(words), sentence))]  # fmt: skip
        if not found:
            told.append(f"no checker: {sentence}")
        elif not all(rule(report, m) for m, rule in found):
            told.append(f"not so: {sentence}")
    return told


def missing(report) -> list[str]:
    """What ought to have been told: jumps, loudness missed, danger to ears."""
    said, level, told = " ".join(report["sentences"]), report["level"], []
    if not report.get("source") and swept(report) and leaps(report) and "jumped" not in said:
        told.append("a jump")
    if report["inputs"]["player"] and not any(s.startswith(STEADY) for s in report["sentences"]):
        told.append("the player's steadiness")
    if report["inputs"].get("mouth") and "outh" not in said:
        told.append("the mouth")
    told += untold_room(report)
    target = level["target_lufs"]
    silent = target is not None and level["lufs"] is None
    off = target is None or silent or abs(level["lufs"] - target) > 1e-6
    if off != (level["reason"] is not None):
        told.append("the reason of a loudness")
    if silent and "silent" not in said:
        told.append("silence")
    if (
        target is not None
        and not silent
        and abs(level["lufs"] - target) > 0.05
        and "asked" not in said
    ):
        told.append("loudness")
    if level["laf_max_db"] and level["laf_max_db"] > 85 and "protect hearing" not in said:
        told.append("danger to ears")
    return told
