"""What is told of the player's drift, worked out once more from the scene in a report."""

from support.told import close, off_name

PLAYERS = {"machine": (0, 0), "professional": (15, 3), "student": (45, 9)}  # cents, %
STEADY = ("Unsteady as ", "Lips and breath were held")


def asked(report):
    """Cents and % rms that the scene asks for."""
    player = report["inputs"]["player"]
    given = player["steadiness"]
    if player["flutter_percent"]:
        return 0, player["flutter_percent"]
    if isinstance(given, str):
        return PLAYERS[given]
    return given["lip_drift_cents"], given["breath_drift_percent"]


def drifts(report) -> bool:
    return bool(report["inputs"]["player"]) and any(asked(report))


def still(report, m) -> bool:
    return not drifts(report)


def unsteady(report, m) -> bool:
    player, (lips, breath) = report["inputs"]["player"], asked(report)
    named = isinstance(player["steadiness"], str) and not player["flutter_percent"]
    good = m["who"] == (f"a {player['steadiness']}" if named else "the scene asks")
    good &= float(m["lips"] or 0) == lips and float(m["breath"] or 0) == breath
    return good and int(m["take"]) == player["take"] and drifts(report)


def alias(report, m) -> bool:
    return report["inputs"]["player"]["flutter_percent"] > 0


def shook(row, m, end="") -> bool:
    """One note's figures."""
    good = close(m[f"lips{end}"], row["lip_cents"], 0.051)
    good &= close(m[f"breath{end}"], row["breath_percent"], 0.051)
    good &= close(m[f"pitch{end}"], row["pitch_cents"], 0.051)
    return good and close(m[f"level{end}"], row["level_db"], 0.0051)


def within(report, row) -> bool:
    lips, breath = asked(report)
    return row["lip_cents"] <= 2 * lips and row["breath_percent"] <= 2 * breath


def one(report, m) -> bool:
    (row,) = (n["steadiness"] for n in report["notes"] if n["steadiness"])
    return shook(row, m) and within(report, row)


def several(report, m) -> bool:
    rows = [n for n in report["notes"] if n["steadiness"]]
    moved = [n["steadiness"]["pitch_cents"] for n in rows]
    least, most = rows[moved.index(min(moved))], rows[moved.index(max(moved))]
    good = len(rows) > 1 and all(within(report, n["steadiness"]) for n in rows)
    for row, name, end in ((least, m["a"], ""), (most, m["b"], "2")):
        off = off_name(report, row["frequency_hz"], name, m["how"])
        good &= abs(off) <= 50.01 and shook(row["steadiness"], m, end)
    return good


SHOOK = (
    "the lips shook by {{lips{0}:n}} cents and the breath by {{breath{0}:n}} %, the pitch by "
    "{{pitch{0}:n}} cents and the level by {{level{0}:n}} dB"
)
STEADINESS = {
    "Lips and breath were held as still as a machine holds them.": still,
    "Unsteady as {who:t}: <some:the lips by {lips:n} cents><and: and ><blown:the breath by "
    "{breath:n} %> (rms, take {take:i}).": unsteady,
    "flutter_percent is another name for the breath_drift_percent of steadiness.": alias,
    f"While it was held {SHOOK.format('')}.": one,
    f"Steadiest was {{a:N}} ({{how:w}}): {SHOOK.format('')}. Least steady was {{b:N}}: "
    f"{SHOOK.format('2')}.": several,
}
