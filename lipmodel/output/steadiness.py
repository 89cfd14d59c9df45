"""How steady the player was, and the notes with it: the row of a report, and what is told."""

from lipmodel.output.report_types import NoteSteadiness, Report, Steadiness
from lipmodel.scene.scene import Scene

OWN = "own"  # two numbers of the scene


def steadiness_row(scene: Scene) -> Steadiness:
    """Which player, the drifts, and what they were drawn with."""
    player, drift = scene.player, scene.player.drift
    named = isinstance(player.steadiness, str) and not player.flutter_percent
    return {
        "player": player.steadiness if named else OWN,
        "lip_drift_cents": drift.lip_drift_cents,
        "breath_drift_percent": drift.breath_drift_percent,
        "seed": scene.sound.seed,
        "take": player.take,
    }


def drifts(report: Report) -> bool:
    """Whether lips or breath drifted."""
    row = report.get("steadiness") or {}
    return bool(row.get("lip_drift_cents") or row.get("breath_drift_percent"))


def steadiness_sentences(report: Report) -> list[str]:
    """Who held lips and breath how still, and what came of it in the notes."""
    row = report.get("steadiness")
    if not row:
        return []
    if not drifts(report):
        return ["Lips and breath were held as still as a machine holds them."]
    drift = []
    if row["lip_drift_cents"]:
        drift.append(f"the lips by {row['lip_drift_cents']:g} cents")
    if row["breath_drift_percent"]:
        drift.append(f"the breath by {row['breath_drift_percent']:g} %")
    who = f"Unsteady as a {row['player']}" if row["player"] != OWN else "Unsteady as the scene asks"
    told = f"{who}: {' and '.join(drift)} (rms, take {row['take']})."
    named = report["inputs"]["player"]["flutter_percent"]
    alias = "flutter_percent is another name for the breath_drift_percent of steadiness."
    return [told, *([alias] if named else []), *_notes(report)]


def _notes(report) -> list[str]:
    how = report["inputs"]["notes"]["read_as"]
    held = [n for n in report["notes"] if n.get("steadiness")]
    if not held:
        return []
    if len(held) == 1:
        return [f"While it was held {_shook(held[0]['steadiness'])}."]
    held.sort(key=lambda n: n["steadiness"]["pitch_cents"])
    a, b = held[0], held[-1]
    return [
        f"Steadiest was {a[how]} ({how}): {_shook(a['steadiness'])}. "
        f"Least steady was {b[how]}: {_shook(b['steadiness'])}."
    ]


def _shook(row: NoteSteadiness) -> str:
    return (
        f"the lips shook by {row['lip_cents']:.1f} cents and the breath by "
        f"{row['breath_percent']:.1f} %, the pitch by {row['pitch_cents']:.1f} cents and the level "
        f"by {row['level_db']:.2f} dB"
    )
