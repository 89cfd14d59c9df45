"""The bells of a scene and its variants as mirrors: what each sends back, and from where."""

import numpy as np

from lipmodel.acoustics.bell import barrier, bell, bell_energy, bell_start, half_frequency
from lipmodel.player.cached import kept_resonances
from lipmodel.scene.scene import Scene
from lipmodel.studies.bores import different_bores
from lipmodel.units import nearest_note, note_name

HIGHEST = 2000.0  # Hz
CURVE = np.arange(20.0, HIGHEST + 1, 10.0)
OUTLINE = 300
LEAST = 0.25  # m of the bore that is drawn
MOST_PARTIALS = 16
DIGITS = 4


def mirror(scene: Scene) -> dict:
    """What the bells of a scene and its variants send back.

    members, one for every different bore, as written first: name, tube_m before the bell,
    reflected and transmitted (shares of the energy at curve_hz, at the bell, no losses), half_hz
    (less comes back above it), top_hz (of the flare's barrier; None without a flare).
    For the first member also bell_x_m, bell_radius_m and partials: n, frequency_hz, note,
    reflected (at the bell), back_at_lips (at the lip end, walls and all), turns_m from the lip
    end or None, turns_before_end_m; and sentences.
    """
    bores = different_bores(scene)
    members = [_member(name, bore, air, _smooth(one)) for name, bore, air, one in bores]
    _, bore, air, _ = bores[0]
    edge = barrier(bore, air) if _smooth(scene) else None
    x = np.linspace(max(0.0, min(bell_start(bore), bore.length - LEAST)), bore.length, OUTLINE)
    result = {
        "curve_hz": CURVE.tolist(),
        "members": members,
        "bell_x_m": x.tolist(),
        "bell_radius_m": bore.radius_at(x).tolist(),
        "partials": _partials(scene, bore, air, edge),
        "clear": edge is not None,
    }
    result["sentences"] = _sentences(result, members[0], edge)
    return result


def _smooth(scene) -> bool:
    """Whether nothing stands in the bell whose edges would pass for a flare."""
    spec = scene.spec()
    return spec.mute is None and spec.hand is None


def _member(name, bore, air, smooth) -> dict:
    mirror_bore = bell(bore)
    reflected, transmitted = bell_energy(mirror_bore, air, CURVE)
    return {
        "name": name,
        "tube_m": round(bell_start(bore), DIGITS),
        "reflected": np.round(reflected, DIGITS).tolist(),
        "transmitted": np.round(transmitted, DIGITS).tolist(),
        "half_hz": half_frequency(mirror_bore, air),
        "top_hz": barrier(bore, air).top if smooth else None,
    }


def _partials(scene, bore, air, edge) -> list[dict]:
    numbered = [r for r in kept_resonances(bore, air) if r.n <= MOST_PARTIALS]
    frequency = np.array([r.frequency for r in numbered if r.frequency < HIGHEST])
    if not len(frequency):
        return []
    at_bell = bell_energy(bell(bore), air, frequency)[0]
    at_lips = bell_energy(bore, air, frequency, wall_loss=True)[0]
    rows = []
    for i, f in enumerate(frequency):
        place = edge.turning_point(f) if edge else None
        rows.append(
            {
                "n": i + 1,
                "frequency_hz": float(f),
                "note": _note(scene, f),
                "reflected": round(float(at_bell[i]), DIGITS),
                "back_at_lips": round(float(at_lips[i]), DIGITS),
                "turns_m": place,
                "turns_before_end_m": None if place is None else bore.length - place,
            }
        )
    return rows


def _note(scene, frequency) -> str:
    """The sounding note nearest to a frequency in Hz."""
    return note_name(nearest_note(frequency, scene.notes.a4_hz)[0], scene.notes.spelling)


def _sentences(document, member, edge) -> list[str]:
    sentences = []
    rows = [r for r in document["partials"] if r["n"] in (2, 4, 8)]
    if rows:
        each = ", ".join(f"{100 * r['reflected']:.1f} % at partial {r['n']}" for r in rows)
        sentences.append(f"Of the energy that reaches the bell, it sends back {each} (mirror.png).")
    half, top = member["half_hz"], member["top_hz"]
    if edge is not None and top is not None:
        less = f"; the first to come back by less than half is {half:.0f} Hz" if half else ""
        sentences.append(f"Above {top:.0f} Hz the flare holds nothing back{less}.")
        turning = [r for r in rows if r["turns_m"] is not None]
        if len(turning) > 1:
            low, high = turning[0], turning[-1]
            sentences.append(
                f"Partial {low['n']} turns {100 * low['turns_before_end_m']:.0f} cm inside the "
                f"rim, partial {high['n']} {100 * high['turns_before_end_m']:.0f} cm: high notes "
                "go further out before they turn."
            )
        if edge.smoothed:
            sentences.append("The measured bell was smoothed to find these places.")
    elif half:
        why = (
            "This bell has no curve where a note could turn before its end"
            if edge is not None
            else "What stands in the bell leaves no flare in which to tell where notes turn"
        )
        sentences.append(
            f"{why}; the first frequency of which less than half comes back is {half:.0f} Hz."
        )
    return sentences
