"""What a variant's report says was changed, held against the inputs and notes of both reports."""

from support.told import cents

PLAYED = {
    "tension_hz": ("lips", "tension_hz"),
    "pressure_kpa": ("breath", "pressure_kpa", "dynamic"),
}
MUCH = 3.0  # cents by which lips or breath of a note may move untold
NOT_PLAYED = ("title", "listen_for", "ask", "choices", "right", "answer", "reason", "show", "map")
WAYS = ("tension_hz", "tune", "phrase"), ("pressure_kpa", "dynamic"), ("name", "bore")
WAYS += ("resonance_hz", "vowel"), ("volume_ml", "peak_pa_s_m3"), ("quality", "glottis_pa_s_m3")


def leaves(inputs):
    """{"player.tune": value, ...}; of a table that is not there, the table."""
    found = {}
    for table, keys in inputs.items():
        if table in NOT_PLAYED:
            continue
        rows = keys.items() if isinstance(keys, dict) else [("", keys)]
        found |= {f"{table}.{key}".rstrip("."): value for key, value in rows}
    return found


def names(key):
    """What a change of this key may be told as: where one thing took another's place, as it."""
    table, _, last = key.partition(".")
    ways = next((w for w in WAYS if last in w), (last,))
    told = [f"{table}.{w}:" for w in ways] + [f"{table}:"]
    if last in ("phrase", "tune"):
        told.append("note ")
    return told + ["the length"] * (key == "sound.length_s")


def untold(first: dict, report: dict) -> list[str]:
    """Differences from the take as written that `changed` leaves out, so that "All else was held"
    would not be so."""
    before, after = leaves(first["inputs"]), leaves(report["inputs"])
    said = report["changed"]
    told = [
        f"untold: {key}"
        for key in dict.fromkeys([*before, *after])
        if before.get(key) != after.get(key)
        and not any(s.startswith(tuple(names(key))) for s in said)
    ]
    if first.get("source") or report.get("source"):
        return told
    words = " ".join(said)
    pairs = list(zip(first["notes"], report["notes"], strict=False))
    # of notes; a sweep's telling moment is another in every take
    held = first["inputs"]["player"]["tension_hz"] is None
    for key, what in PLAYED.items():
        moved = [abs(cents(b[key], a[key])) for a, b in pairs if a[key] and b[key]]
        other = held and max(moved, default=0.0) > MUCH
        if other and not any(w in words for w in what):
            told.append(f"untold: {key} moved by {max(moved):.0f} cents")
    return told
