"""What is told of energy, loudness and steep waves, worked out once more from a report."""

from support.told import close


def energy(report, m) -> bool:
    e = report["energy"]
    into = e["into_bore_j"]
    rest = into - e["radiated_j"] - (e["stored_j"] if m["still"] else 0)
    good = close(m["out"], 100 * e["radiated_j"] / into, 0.05)
    good &= not m["still"] or close(m["still"], 100 * e["stored_j"] / into, 0.05)
    # told to a percent of what entered
    for words, key in (("behind the throat", "throat_j"), ("in valves on their way", "valves_j")):
        good &= (words in m["more"]) == (e[key] > 0.01 * into)
    return good and abs(rest - e["wall_j"]) < 0.02 * into


def steep(report, m) -> bool:
    row, words = report["steepening"], m[0]
    if "real tube" in words:
        return not report["inputs"]["sound"]["steepening"] and row["strength"] >= 0.5
    if "shock inside" in words:
        return row["on"] and row["strength"] >= 1
    return (
        row["on"] and 0.5 <= row["strength"] < 1 and close(m["share"], 100 * row["strength"], 0.5)
    )


def books(report, m) -> bool:
    e = report["energy"]
    gone = abs(e["blown_j"] - e["into_bore_j"] - e["lips_and_jet_j"]) / e["blown_j"]
    said = gone >= 1 if m["share"] == "more than all" else close(m["share"][:-2], 100 * gone, 0.5)
    return said and gone > 0.3 and float(m["rate"]) == report["inputs"]["sound"]["rate_hz"]


def loud(report, m) -> bool:
    level, given = report["level"], report["inputs"]["sound"]
    where = "the player's own ear" if given["place"] == "player" else f"{given['distance_m']:g} m"
    what = "tube" if report.get("source") else "horn played"
    good = m["what"] == what and m["where"] == where and level["laf_max_db"] > 85
    return good and close(m["db"], level["laf_max_db"], 0.5)


def kept_down(report, m) -> bool:
    level = report["level"]
    return (level["true_peak_dbtp"] <= -1 + 1e-6 and level["true_peak_dbtp"] > -1.01
            and close(m["lufs"], level["lufs"], 0.05) and float(m["lufs"]) < float(m["asked"])
            and float(m["asked"]) == report["inputs"]["sound"]["loudness_lufs"])  # fmt: skip


def silent_file(report, m) -> bool:
    return report["level"]["lufs"] is None and report["level"]["true_peak_dbtp"] is None


LEVELS = {
    "Of the energy that entered the tube, {out:t} % left the open end; <some:{still:n} % was "
    "still in the tube at the end; >the rest was lost at the walls{more:t}.": energy,
    "In a real tube a wave this loud would grow steep and sound brassy; here it does not.":
    steep,
    "At its steepest the wave breaks into a shock inside the tube.": steep,
    "The wave grows steep in the tube: at most {share:i} % of the way to a shock.": steep,
    "Do not trust this sound: {share:t} of the blown energy is not accounted for at the "
    "lips, for whom steps of 1/{rate:n} s are too long. A higher sound.rate_hz would help.":
    books,
    "A real {what:t} like this reaches {db:i} dB(A) at {where:t}: protect hearing. Start the "
    "file softly, above all on headphones.": loud,
    "Kept at {lufs:n} LUFS, below the {asked:n} LUFS asked for: its peaks would have passed "
    "-1 dBTP.": kept_down,
    "The sound file is silent: there is no loudness to match.": silent_file,
}  # fmt: skip
