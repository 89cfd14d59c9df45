"""What a map of mouth resonance by lip setting tells: where a partial begins, and whether the mouth
moves that border."""

import numpy as np

HELD = ("locked", "bent")
STEADY = (*HELD, "free")


def borders(document: dict) -> dict[int, list[tuple[float, float]]]:
    """For each partial that a slot holds, (resonance of the mouth, lowest lip setting at which it
    sounds), both in Hz, of each row in which that border lies within the map."""
    found: dict[int, list[tuple[float, float]]] = {}
    partial, state = (np.array(document[name], object) for name in ("partial", "state"))
    held = np.isin(state, HELD)
    for mouth, row, inside in zip(document["mouth_hz"], partial, held, strict=True):
        for n in sorted(set(row[inside])):
            first = int(np.flatnonzero(inside & (row == n))[0])
            if first > 0:
                found.setdefault(int(n), []).append((mouth, document["tension_hz"][first]))
    return found


def led_sentences(document: dict, names: dict[int, str], first: str) -> list[str]:
    """What sounded where; the border that the mouth moves most."""
    tension, mouth = document["tension_hz"], document["mouth_hz"]
    where = (
        f"lips set to {tension[0]:.0f} to {tension[-1]:.0f} Hz, mouth at {mouth[0]:.0f} to "
        f"{mouth[-1]:.0f} Hz, {document['pressure_kpa'][0]:g} kPa"
    )
    partial, state = (np.array(document[name], object) for name in ("partial", "state"))
    sounded = sorted({int(n) for n in partial[np.isin(state, HELD)] if n})
    if not np.isin(state, STEADY).any():
        return [f"Nothing sounded a note anywhere ({where}); blow harder or set the lips lower."]
    if not sounded:
        return [f"The pitch only glides with the lips ({where})."]
    each = ", ".join(names[n] for n in sounded)
    told = [f"Partials that sounded ({first} notes): {each} ({where})."]
    most = max(borders(document).items(), key=_moved, default=None)
    column = tension[1] / tension[0]
    # a border is known to a column: what moves by one may stand still
    if most is None or _moved(most) < column**1.5:
        return [*told, "The mouth moves no border between them by more than a column of the map."]
    n, places = most
    (low_mouth, low), (high_mouth, high) = (f(places, key=lambda p: p[1]) for f in (min, max))
    told.append(
        f"The mouth moves one border most: {names[n]} sounds from a lip setting of {low:.0f} Hz "
        f"with the mouth at {low_mouth:.0f} Hz, but only from {high:.0f} Hz with it at "
        f"{high_mouth:.0f} Hz."
    )
    return told


def _moved(border) -> float:
    settings = [setting for _, setting in border[1]]
    return max(settings) / min(settings)
