"""lipmodel instruments"""

from lipmodel.bore.instruments import instruments
from lipmodel.files import tables

INTERVALS = {
    1: "a semitone", 2: "a tone", 3: "a minor third", 4: "a third", 5: "a fourth", 7: "a fifth",
    8: "a minor sixth", 9: "a sixth", 10: "a seventh", 12: "an octave", 14: "a ninth",
    21: "an octave and a sixth",
}  # fmt: skip


def run(args) -> int:
    rows = [one.to_dict() for one in instruments()]
    if args.json:
        print(tables.json_text({"instruments": rows}), end="")
        return 0
    width = max(len(r["name"]) for r in rows)
    for r in rows:
        valves = f", {r['valves']} valves" if r["valves"] else ", slide" if r["slide"] else ""
        pitch = f", {pitch_words(r)}" if r["kind"] == "instrument" else ""
        print(f"{r['name']:{width}} {r['title']} ({r['length_m']:.2f} m{pitch}{valves})")
    return 0


def pitch_words(row: dict) -> str:
    """The note of the open tube, and how its music is written: "in Bb, written a tone above"."""
    above = -row["transposition_semitones"]
    if not above:
        return f"in {row['open_note']}, read at concert pitch"
    interval = INTERVALS.get(abs(above), f"{abs(above)} semitones")
    return f"in {row['open_note']}, written {interval} {'above' if above > 0 else 'below'}"
