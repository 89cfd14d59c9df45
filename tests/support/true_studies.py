"""The sentences of what a source sounds, and of the studies in a report, worked out once more."""

import re

import numpy as np
from support.told import cents, close, lock_told, off_name


def put_in(report, m) -> bool:
    source, words = report["source"], m[0]
    begun = {"One slap": "pop", "Only rushing": "breath", "A loudspeaker": "tone"}
    kind = next(k for start, k in begun.items() if words.startswith(start))
    swept = [float(v) for v in re.findall(r"\d+", words)]
    return source["kind"] == kind and swept == [round(f) for f in source.get("sweep_hz", ())]


def rings(report, m) -> bool:
    hz = float(m["hz"])
    nearest = min(report["resonances"], key=lambda r: abs(cents(r["frequency_hz"], hz)))
    off = cents(report["notes"][0]["frequency_hz"], nearest["frequency_hz"])
    there = abs(off_name(report, hz, m["name"], "sounding")) <= 50.1
    return (close(hz, report["notes"][0]["frequency_hz"], 0.05) and int(m["n"]) == nearest["n"]
            and close(m["off"], off, 0.05) and there)  # fmt: skip


def sings(report, m) -> bool:
    source = report["source"]
    return rings(report, m) and source["sounds"] and heat(report, m)


def heat(report, m) -> bool:
    source, given = report["source"], report["inputs"]["source"]
    silent = not any(report["pitch"]["frequency_hz"]) or source["sounds"]
    return close(m["mm"], given["at_mm"], 0.5) and float(m["lag"]) == given["lag_ms"] and silent


def peaks(report, m) -> bool:
    """Peaks of the spectrum that the report holds, next to the resonances."""
    told = [float(f) for f in re.findall(r"\d+", m["hz"])]
    heard = report["source"]["heard"]
    own = {r["n"]: r["frequency_hz"] for r in report["resonances"]}
    spectrum = report["source"]["spectrum"]
    f, db = np.array(spectrum["frequency_hz"]), np.array(spectrum["level_db"])
    good = int(m["count"]) == len(heard) and len(told) == min(4, len(heard))
    worst = max(abs(cents(h["frequency_hz"], own[h["n"]])) for h in heard)
    good &= close(m["worst"], max(worst, 0.1), 0.05)
    good &= m["how"] == ("are" if worst <= 5 else "lie near")
    for hz, row in zip(told, heard, strict=False):
        near = np.abs(f - hz) < 25
        good &= close(hz, row["frequency_hz"], 0.5) and abs(f[near][np.argmax(db[near])] - hz) < (
            6 if worst <= 5 else 25
        )
    return bool(good)


def no_peaks(report, m) -> bool:
    return not report["source"]["heard"]


def put_in_share(report, m) -> bool:
    e = report["energy"]
    rest = e["into_bore_j"] - e["radiated_j"] - e["wall_j"]
    if m["still"]:
        rest -= e["stored_j"]
        if not close(m["still"], 100 * e["stored_j"] / e["into_bore_j"], 0.05):
            return False
    told = m["share"].lower()
    share = 100 * e["radiated_j"] / e["into_bore_j"]
    return close(told, share, 0.05) and abs(rest) < 0.02 * e["into_bore_j"]


def fed(report, m) -> bool:
    return report["source"]["sounds"] and any(
        g["fed_per_s"] > g["lost_per_s"] for g in growths(report)
    )


def growths(report):
    return report["source"]["rayleigh"]


def starved(report, m) -> bool:
    best = max(growths(report), key=lambda g: g["fed_per_s"] - g["lost_per_s"])
    silent = not report["source"]["sounds"] and best["n"] == int(m["n"])
    return (silent and 0 < best["fed_per_s"] < best["lost_per_s"]
            and close(m["fed"], best["fed_per_s"], 0.05)
            and close(m["lost"], best["lost_per_s"], 0.05))  # fmt: skip


def slow(report, m) -> bool:
    best = max(growths(report), key=lambda g: g["fed_per_s"] - g["lost_per_s"])
    net = best["fed_per_s"] - best["lost_per_s"]
    return not report["source"]["sounds"] and net > 0 and close(m["net"], net, 0.05)


def against(report, m) -> bool:
    return not report["source"]["sounds"] and all(g["fed_per_s"] <= 0 for g in growths(report)[:1])


def no_draught(report, m) -> bool:
    lip = report["inputs"]["source"]["lip_end"] == "closed"
    return heat(report, m) and not report["source"]["sounds"] and (m["end"] == "lip end") == lip


def flame(report, m) -> bool:
    return report["source"]["kind"] == "flame"


def by_meeting(report):
    both = (report["pair"]["first"], report["pair"]["other"])
    return sorted(both, key=lambda p: -p["alignment"])


def meet_alike(report, m) -> bool:
    met, missed = by_meeting(report)
    return met["alignment"] - missed["alignment"] < 0.05


def meets(report, m) -> bool:
    met, missed = by_meeting(report)
    return ((m["met"], m["missed"]) == (met["state"], missed["state"])
            and met["alignment"] - missed["alignment"] >= 0.05
            and close(m["a"], 100 * met["alignment"], 0.5)
            and close(m["b"], 100 * missed["alignment"], 0.5))  # fmt: skip


def family(report, m) -> bool:
    first, last = report["family"][0], report["family"][-1]
    told = re.findall(r"(\d+): ([+-]\d+)", m["each"])
    good = (m["first"], m["last"]) == (first["name"], last["name"])
    pairs = zip(last["resonances_hz"][:4], first["resonances_hz"][:4], strict=False)
    moved = [cents(a, b) for a, b in pairs]
    good &= [int(n) for n, _ in told] == list(range(1, len(moved) + 1))
    return good and all(close(c, x, 0.5) for (_, c), x in zip(told, moved, strict=True))


def pedal(report, m) -> bool:
    note, own = report["pedal"]["frequency_hz"], [r["frequency_hz"] for r in report["resonances"]]
    off = cents(own[0], note)
    held = [n for n in range(1, 9) if min(abs(cents(f, n * note)) for f in own) < 40]
    told = [int(n) for n in re.findall(r"\d+", m["held"])]
    rows = [n for n in report["notes"] if n["frequency_hz"] == note]
    return (close(m["first"], own[0], 0.5) and close(m["off"], abs(off), 0.5) and told == held
            and (m["way"] == "above") == (off > 0) and len(rows) == 1
            and (m["lock"] is None or lock_told(m["lock"], rows[0]["lock"])))  # fmt: skip


def mirror_shares(report, m) -> bool:
    rows = {r["n"]: r for r in report["mirror"]["partials"]}
    curve = report["mirror"]["curve_hz"]
    member = report["mirror"]["members"][0]["reflected"]
    told, good = re.findall(r"([\d.]+) % at partial (\d+)", m[0]), True
    for share, n in told:
        row = rows[int(n)]
        good &= close(share, 100 * row["reflected"], 0.051)
        good &= abs(np.interp(row["frequency_hz"], curve, member) - row["reflected"]) < 0.02
    return bool(told) and good


def half(report, m) -> bool:
    """Less than half comes back above it, and more below."""
    member, curve = report["mirror"]["members"][0], np.array(report["mirror"]["curve_hz"])
    if m["half"] is None:
        return member["half_hz"] is None
    at, back = float(m["half"]), np.array(member["reflected"])
    below = back[curve < at - 5]
    above = back[curve > at + 5][:1]
    return close(at, member["half_hz"], 0.5) and np.all(below > 0.49) and np.all(above < 0.52)


def flare(report, m) -> bool:
    return close(m["top"], report["mirror"]["members"][0]["top_hz"], 0.5) and half(report, m)


def bare(report, m) -> bool:
    member, inside = report["mirror"]["members"][0], report["inputs"]["instrument"]
    filled = bool(inside["mute"] or inside["hand"])
    return member["top_hz"] is None and half(report, m) and ("What stands" in m[0]) == filled


def turns(report, m) -> bool:
    rows = {r["n"]: r["turns_before_end_m"] for r in report["mirror"]["partials"]}
    low, high = rows[int(m["a"])], rows[int(m["b"])]
    return close(m["x"], 100 * low, 0.5) and close(m["y"], 100 * high, 0.5) and high < low


def field(report, m) -> bool:
    played = report["field"]["played"]
    mine = next(p for p in report["field"]["partials"] if p["n"] == played["partial"])
    nodes = [float(x) for x in re.findall(r"\d+", m["places"])]
    good = int(m["n"]) == played["partial"] and int(m["count"]) == len(nodes)
    good &= len(mine["pressure_nodes_m"]) == len(nodes) and mine["pressure_antinodes_m"][0] == 0
    good &= (m["count"] == "1") == (m["s"] == "")
    return bool(good) and all(
        close(x, 100 * y, 0.5) for x, y in zip(nodes, mine["pressure_nodes_m"], strict=True)
    )


def no_nodes(report, m) -> bool:
    played = report["field"]["played"]
    mine = next(p for p in report["field"]["partials"] if p["n"] == played["partial"])
    return not mine["pressure_nodes_m"]


def echo_bell(report, m) -> bool:
    rows = {r["n"]: r["time_s"] for r in report["echo"]["returns"]}
    low, high, end = rows[int(m["a"])], rows[int(m["b"])], report["echo"]["members"][0]["end_s"]
    good = close(m["x"], 1e3 * low, 0.05) and close(m["y"], 1e3 * high, 0.05) and low < high <= end
    return good and close(m["end"], 1e3 * end, 0.05)


def echo_end(report, m) -> bool:
    end = report["echo"]["members"][0]["end_s"]
    # all come back within a tenth of the way, as from the end: told to 0.1 ms
    same = all(abs(r["time_s"] - end) < 0.1 * end for r in report["echo"]["returns"])
    return same and close(m["end"], 1e3 * end, 0.05)


def echo_file(report, m) -> bool:
    return "echo" in report


def louder(report, m) -> bool:
    rows = report["dynamics"]["rows"]
    first, last = rows[0], max(rows, key=lambda r: r["mouth_pressure_kpa"])
    a, b = first["heard"], last["heard"]
    good = close(m["low"], first["mouth_pressure_kpa"], 0.05)
    good &= close(m["high"], last["mouth_pressure_kpa"], 0.05)
    good &= (
        close(m["db"], b["level_db"] - a["level_db"], 0.51) and b["centroid_hz"] > a["centroid_hz"]
    )
    good &= close(m["from"], a["centroid_hz"], 0.51) and close(m["to"], b["centroid_hz"], 0.51)
    steep = report["inputs"]["sound"]["steepening"]
    linear = m["linear"] is None or close(m["linear"], last["linear"]["centroid_hz"], 0.51)
    return bool(good) and linear and (m["linear"] is not None) == steep


PLACED = "heat {mm:i} mm from the lower end, {lag:n} ms behind the motion of the air"


def joined(report, m) -> bool:
    """The dips as the report has them; and what the sound does at those moments."""
    found = [n["join"] for n in report["notes"] if n.get("join")]
    known = [j for j in found if j["dip_db"] is not None]
    good = True
    for words, slurred in ((m["slurred"], True), (m["tongued"], False)):
        dips = [max(j["dip_db"], 0) for j in known if (j["kind"] == "slur") == slurred]
        if not words:
            good &= not dips
            continue
        told = [float(v) for v in re.findall(r"\d+", words)]
        good &= close(told[0], min(dips), 0.51) and close(told[-1], max(dips), 0.51)
    return bool(good and all(_dips(report, n) for n in report["notes"]))


def _dips(report, note) -> bool:
    """Whether the sound dips where a note is joined about as far as the report says."""
    if not note.get("join") or note["join"]["dip_db"] is None:
        return True
    samples, rate = report["sound"]
    size = int(0.02 * rate)
    level = 10 * np.log10(np.convolve(samples**2, np.ones(size) / size, "same") + 1e-12)
    at = int(note["start_s"] * rate)
    before, after = level[at - rate // 5 : at - rate // 10], level[at + rate // 10 : at + rate // 5]
    near = level[at - rate // 12 : at + rate // 10]
    if not (before.size and after.size):
        return True
    found = min(np.median(before), np.median(after)) - near.min()
    # another window, other stretches beside it; a slur's dip is shorter than that window
    told = note["join"]["dip_db"]
    return abs(found - told) < 5 if note["join"]["kind"] != "slur" else found < told + 2


def _spread(report, hz):
    return next(r for r in report["directivity"]["rows"] if round(r["frequency_hz"]) == int(hz))


def _less(report, hz, degrees) -> float:
    """dB less than on the axis, over 15 degrees to either side."""
    row, angles = _spread(report, hz), np.array(report["directivity"]["angle_deg"])
    level = np.array(row["level_db"])
    seats = np.abs(angles - degrees) <= 15
    return level[angles == 0][0] - 10 * np.log10(np.mean(10 ** (level[seats] / 10)))


def all_round(report, m) -> bool:
    return max(_less(report, m["hz"], a) for a in (0, 90, 150)) < 3


def to_the_side(report, m) -> bool:
    return close(m["side"], _less(report, m["hz"], 90), 0.51) and close(
        m["behind"], _less(report, m["hz"], 150), 0.51
    )


def beam(report, m) -> bool:
    row, angles = report["directivity"]["rows"][-1], report["directivity"]["angle_deg"]
    fallen = [a for a, v in zip(angles, row["level_db"], strict=True) if v < row["level_db"][0] - 6]
    return fallen[0] == int(m["angle"])


STUDIES = {
    "One slap on the closed lip end, and nobody blows: the tube rings by itself.": put_in,
    "Only rushing air, which has no pitch of its own; the tube gives it one.": put_in,
    "A loudspeaker sweeps from {a:i} to {b:i} Hz as evenly as it can; the tube does not "
    "answer evenly.": put_in,
    "Strongest at {hz:n} Hz ({name:N}, sounding): resonance {n:i} of the tube, {off:n} cents "
    "from it.": rings,
    "The tube sings by itself at {hz:n} Hz ({name:N}, sounding), {off:n} cents from its "
    f"resonance {{n:i}}: {PLACED}.": sings,
    "The peaks of the sound, {hz:t} Hz, {how:t} the tube's own resonances: {count:i} of them, "
    "within {worst:n} cents.": peaks,
    "No peak of the sound is a resonance of the tube: none lies in the band that was put in, "
    "or the sound is over too soon.": no_peaks,
    "{share:t} % of what was put in left as sound; <some:{still:n} % was still in the tube at the "
    "end; >the rest warmed the walls.": put_in_share,
    "The heat comes while the pressure is high, so each swing is fed (Rayleigh 1878); it "
    "grows until the heat cannot follow any further.": fed,
    "This flame exists only as numbers. Do not try it with fire: a naked flame, hot metal "
    "and fumes need a qualified person and the local fire rules.": flame,
    f"Silent: {PLACED}.": heat,
    f"Silent ({PLACED}): the {{end:t}} is closed, so no draught passes the flame and its heat "
    "cannot follow the motion of the air.": no_draught,
    "Resonance {n:i} would be fed by {fed:n} e-folds a second, but walls and ends take "
    "{lost:n}.": starved,
    "Resonance {n:i} grows, but by no more than {net:n} e-folds a second: too slow to be "
    "heard in this time.": slow,
    "The heat comes while the pressure is low: it takes from every swing (Rayleigh).": against,
    "The harmonics of both meet the resonances about as well.": meet_alike,
    "The harmonics of the {met:w} note meet resonances of the tube ({a:i} % of what they "
    "could), those of the {missed:w} one miss more of them ({b:i} %).": meets,
    'From "{first:t}" to "{last:t}" resonances move, in cents: {each:t} (bores.png).': family,
    "The first resonance ({first:i} Hz) is {off:i} cents {way:w} it, but harmonics {held:t} "
    "fall on resonances within 40 cents<more:; {lock:L}>.": pedal,
    "Of the energy that reaches the bell, it sends back {each:t} (mirror.png).": mirror_shares,
    "Above {top:i} Hz the flare holds nothing back<more:; the first to come back by less "
    "than half is {half:i} Hz>.": flare,
    "Partial {a:i} turns {x:i} cm inside the rim, partial {b:i} {y:i} cm: high notes go "
    "further out before they turn.": turns,
    "{why:t}; the first frequency of which less than half comes back is {half:i} Hz.": bare,
    "All along the tube the pressure swings together (field.png).": no_nodes,
    "Partial {n:i} has {count:i} node<s:s> of pressure inside the tube, {places:t} cm from "
    "the lips: there the air moves most. At the lips the pressure is greatest and the air "
    "stands nearly still (field.png).": field,
    "Partial {a:i} comes back from the bell as from an open end {x:n} ms away, partial {b:i} "
    "from {y:n} ms, and the rim is at {end:n} ms: a bell is not a place (echo.png).": echo_bell,
    "High and low notes come back from the open end after the same {end:n} ms (echo.png).":
    echo_end,
    "echo.wav: one click into lips that swallow its echoes; then the same with the lips "
    "shut, when every echo sets out again and the horn rings.": echo_file,
    "From {low:n} to {high:n} kPa of breath the note grows by {db:i} dB, and the middle of "
    "its spectrum rises from {from:i} to {to:i} Hz<more: ({linear:i} Hz if loud waves did "
    "not grow steep)>.": louder,
    "Between the notes the level dips by <slurred:{a:t} dB where slurred><and:, by ><tongued:{b:t} "
    "dB where tongued>.": joined,
    "At {hz:i} Hz it sounds nearly alike to all sides.": all_round,
    "At {hz:i} Hz the side hears {side:i} dB less than the place before the bell, the row behind "
    "{behind:i} dB less.": to_the_side,
    "There the sound has lost 6 dB {angle:i} degrees off the bell's axis: brightness is a matter "
    "of where one sits.": beam,
}  # fmt: skip
