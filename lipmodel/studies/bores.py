"""Variants of one scene that differ in their bore: shapes and resonances side by side."""

import numpy as np

from lipmodel.player.build import room_air, scene_bore
from lipmodel.player.cached import kept_resonances
from lipmodel.scene.scene import Scene
from lipmodel.units import cents

FEWEST = 3  # bores, to be told as a family
RATIOS = 6  # resonances told as ratios to the first
OUTLINE = 300  # points of a bore's shape


def different_bores(scene: Scene) -> list[tuple]:
    """(name, bore, air, scene) of a scene, named as its bore, and of each variant with another."""
    members, seen = [], set()
    for variant in scene.variants:
        bore, air = scene_bore(variant.scene, variant.scene.spec()), room_air(variant.scene)
        key = bore.x.tobytes() + bore.radius.tobytes()
        if key not in seen:
            seen.add(key)
            name = variant.name if members else bore.title or variant.name
            members.append((name, bore, air, variant.scene))
    return members


def bores(scene: Scene) -> dict | None:
    """The bores of a scene and its variants, or None where fewer than three differ.

    members: name, x and radius (m), resonances (Hz), ratios to the first; sentence: how far
    resonances moved from the first member to the last; quarter_wave_hz:
    c/(4 L) of the longest bore, the fundamental of which a closed cylinder has the odd multiples
    (1, 3, 5) and a complete cone the even ones (2, 4, 6).
    """
    members = [
        (name, bore, air, kept_resonances(bore, air))
        for name, bore, air, _ in different_bores(scene)
    ]
    if len(members) < FEWEST:
        return None
    longest = max(bore.length for _, bore, _, _ in members)
    speed = float(np.mean(members[0][2].along(np.linspace(0, 1, 11)).sound_speed))
    quarter = speed / (4 * longest)
    rows = [_member(name, bore, resonances, quarter) for name, bore, _, resonances in members]
    return {"quarter_wave_hz": quarter, "members": rows, "sentence": _sentence(rows)}


def _member(name, bore, resonances, quarter) -> dict:
    x = np.linspace(0, bore.length, OUTLINE)
    frequency = [r.frequency for r in resonances]
    return {
        "name": name,
        "x_m": x.tolist(),
        "radius_m": bore.radius_at(x).tolist(),
        "resonances_hz": frequency,
        "multiples": [f / quarter for f in frequency],
        "ratios": [f / frequency[0] for f in frequency[:RATIOS]],
    }


def _sentence(members: list[dict]) -> str:
    first, last = members[0], members[-1]
    moved = [
        f"{n}: {round(cents(b, a)):+d}"
        for n, (a, b) in enumerate(
            zip(first["resonances_hz"][:4], last["resonances_hz"][:4], strict=False), 1
        )
    ]
    return (
        f'From "{first["name"]}" to "{last["name"]}" resonances move, in cents: '
        f"{', '.join(moved)} (bores.png)."
    )
