"""What every scene that comes along sounds like, in a few numbers: `reference/features.csv`.

    python tests/make_features.py            make the table again, and say what has moved

A change of the physics that is meant to be heard moves numbers here: whoever makes it looks at
what moved, and why, before the table is committed.
"""

import csv
import json
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from lipmodel.files.audio import read_sound
from lipmodel.output.render import render

HERE = Path(__file__).resolve().parent
SCENES = HERE.parents[1] / "scenes"
TABLE = HERE / "features.csv"
JUDGED = """\
# Judged by the authors by eye on pictures and by measurement with independent tools;
# no ear has judged them yet.
# One row a number: take (folder of the scenes, then of the take), what, value.
# Made by: python tests/make_features.py
"""
FIELDS = ("take", "what", "value")
# What another processor or another version of numpy may do to a take that is the same to the ear:
# the ladder's fit and every note's search end at other last digits, and a search may stop one trial
# earlier or later, within the 0.7 cent to which it searches.  A listener hears 5 cents, 1 dB.
CENTS, DECIBEL, SHARE, SECONDS = 1.0, 0.3, 0.01, 0.02


def scene_files() -> list[Path]:
    """Every scene in scenes/ and in its folders; lesson files are none."""
    found = [p for p in sorted(SCENES.rglob("*.toml")) if "[instrument]" in p.read_text("utf-8")]
    assert len(found) > 30
    return found


def name_of(path: Path, folder: str) -> str:
    """What the table calls a take: scenes in a folder of their own keep its name."""
    inside = path.parent.relative_to(SCENES).as_posix()
    return folder if inside == "." else f"{inside}/{folder}"


def centroid(samples, rate) -> float:
    """Centre of gravity in Hz of the power spectrum of a whole sound."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    frequency = np.fft.rfftfreq(len(samples), 1 / rate)
    return float(np.sum(frequency * power) / np.sum(power))


def features(take: Path) -> dict:
    """{what: value} of the folder of a take: pitch of each note or of what a source made sound, in
    Hz, level, centroid, lengths."""
    report = json.loads((take / "report.json").read_text("utf-8"))
    samples, rate = read_sound(take / "sound.wav")
    found = {"length_s": len(samples) / rate}
    if np.any(samples):
        found["centroid_hz"] = centroid(samples, rate)
    found |= {k: report["level"][k] for k in ("lufs", "spl_db")}
    notes = [n for n in report.get("notes", []) if n["frequency_hz"] is not None]
    found["notes"] = len(notes)
    for i, note in enumerate(notes, 1):
        found[f"note {i} hz"] = note["frequency_hz"]
        found[f"note {i} start_s"] = note["start_s"]
    for i, heard in enumerate(report.get("source", {}).get("heard", []), 1):
        found[f"heard {i} hz"] = heard["frequency_hz"]
    return {what: round(float(value), 4) for what, value in found.items() if value is not None}


def known() -> dict:
    """{take: {what: value}} of the table."""
    lines = [line for line in TABLE.read_text("utf-8").splitlines() if not line.startswith("#")]
    table: dict[str, dict] = {}
    for row in csv.DictReader(lines):
        table.setdefault(row["take"], {})[row["what"]] = float(row["value"])
    return table


def moved(before: dict, after: dict) -> list[str]:
    """Sentences about what lies further apart than the tolerances, of one take."""
    told = [f"{what}: no longer there" for what in before if what not in after]
    told += [f"{what}: new" for what in after if what not in before]
    for what in [w for w in before if w in after]:
        old, new = before[what], after[what]
        if what == "centroid_hz":
            off, allowed, unit = abs(new / old - 1), SHARE, "of it"
        elif what.endswith(" hz"):
            off, allowed, unit = abs(1200 * np.log2(new / old)), CENTS, "cents"
        elif what in ("lufs", "spl_db"):
            off, allowed, unit = abs(new - old), DECIBEL, "dB"
        elif what.endswith("_s"):
            off, allowed, unit = abs(new - old), SECONDS, "s"
        else:
            off, allowed, unit = abs(new - old), 0, ""
        if not off <= allowed:
            told.append(f"{what}: {old:g} -> {new:g}, {off:.4g} {unit} (allowed: {allowed:g})")
    return told


def main() -> int:
    before = known() if TABLE.is_file() else {}
    after = {}
    with TemporaryDirectory() as folder:
        for path in scene_files():
            print(f"{path.relative_to(SCENES)} ...", file=sys.stderr)
            for take in render(path, Path(folder) / path.parent.name):
                after[name_of(path, take.folder.name)] = features(take.folder)
    for take in sorted({*before, *after}):
        for sentence in moved(before.get(take, {}), after.get(take, {})) if before else []:
            print(f"{take}: {sentence}")
    rows = [(take, what, value) for take in sorted(after) for what, value in after[take].items()]
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        file.write(JUDGED)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerows([FIELDS, *rows])
    print(f"{TABLE}: {len(rows)} numbers of {len(after)} takes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
