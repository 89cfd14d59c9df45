"""What the live page needs of every tube that it can switch to: the very arrays of the time loop.

One description of bore and player, two executions: the browser's loop reads what
`waveguide/time_loop.py` hands to `waveguide/kernels/time_loop.py`.
"""

import json

import numpy as np

from lipmodel.acoustics.impedance import impedance
from lipmodel.air import Air
from lipmodel.analysis.sweeps import slot_rows, sweep
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.errors import SceneError
from lipmodel.mouth import Mouth
from lipmodel.output.live_loops import Tube, held, lips_of, loop_of
from lipmodel.output.live_notes import notes_of_slots, notes_of_valves
from lipmodel.player.build import (
    Built,
    build,
    first_slide_position,
    held_valves,
    player_mouth,
    room_air,
    scene_bore,
)
from lipmodel.player.cached import kept_resonances
from lipmodel.player.note_names import rows_of
from lipmodel.scene.scene import Scene
from lipmodel.units import ML

RATES = (48_000, 24_000)  # Hz; the second for a machine that is too slow
PRESSURES = (6e3, 12e3)  # Pa, at which slots are looked up
SETTINGS = (100.0, 1000.0)  # Hz across the field for a small mouthpiece
HARDEST = 20e3  # Pa at its top
CURVE = np.geomspace(60.0, 3000.0, 360)  # Hz, of the impedance drawn under the harmonics
SPEAKS = 1.5  # times the breath at which a note of the lips' own pitch begins: ours
EVEN = 40  # settings across the field for which an even breath is told
HIGHEST = 2000.0  # Hz, of the resonances told
MOUTH = Mouth(500.0)  # where the scene has none
TONGUE = (200.0, 1500.0)  # Hz within which it is moved by hand
LONG, LONGEST = 6.0, 12.0  # m: from here at half the rate alone; not at all
# whoever plays on the page: what the scene plays need not suit another tube
VISITOR = {"pressure_kpa": 4.0, "tension_hz": 300.0}
VALVES = ("0", "2", "1", "12", "23", "13", "123", "4", "24", "14", "124", "234", "134", "1234")
# of a trumpet: what stands in for its bell, and other tubes behind the same mouthpiece
SLOT = ("pressure_pa", "partial", "from_hz", "to_hz")  # of a slot, what the page shows
BELLS = (("bell on", None), ("gradual bell", "trumpet_gradual_bell"), ("bell off", "none"))
TUBES = ("hailing_cone", "hose")


def live_set(scene: Scene, progress=lambda words: None, tubes=None) -> dict:
    """The page's data for a scene with a player: `choices` with their loops by rate, lips by
    motion, the field.  `tubes`: names of instruments to switch to, TUBES by default.

    Raises SceneError for a scene with a source and for a bore too long to be played at once.
    """
    scene.needs_player("the live page")
    given, scene = scene, _without_mouth(scene)
    first = build(scene, held=True)
    if first.bore.length > LONGEST:
        raise SceneError(
            f"{scene.path}: the bore is {first.bore.length:.1f} m long and would cost "
            f"{cost_of(first):.0f} times a trumpet, too much to be played at once; expected up to "
            f"{LONGEST:g} m"
        )
    rates = RATES if first.bore.length <= LONG else RATES[1:]
    choices = list(_choices(scene, first, TUBES if tubes is None else tubes))
    progress(f"{choices[0][0]}: the time loop's numbers")
    bare = _with(scene, _unheld(scene))[0]
    own = Tube.of(scene, bare, [c[2] for c in choices if c[1] != "tube"], rates)
    document = {"rates": list(rates), "choices": [], "lips": lips_of(first), "field": _field(first)}
    document |= {"firm": first.horn.lips.firm, "mouth": _mouth(given, first.air.at_lips)}
    document["held"] = {"valves": held_valves(scene), "position": first_slide_position(scene),
                        "numbers": list(valve_numbers(first.spec)),
                        "slide": has_mark(first.spec, "slide"),
                        "toml": _toml(_unheld(scene))}  # fmt: skip
    document |= {
        "tables": _tables(scene) | {"mouth": _mouth_lines(given, first.air.at_lips)},
        "a4_hz": scene.notes.a4_hz,
        "spelling": scene.notes.spelling,
    }
    for number, choice in enumerate(choices, 1):
        progress(f"{_said(*choice[:2])}: where notes hold ({number} of {len(choices)})")
        try:
            document["choices"].append(_choice(*choice, rates, own))
        except SceneError as error:  # of a tube that the scene does not name
            if number == 1:
                raise
            told = str(error).removeprefix(f"{scene.path}: ")
            raise SceneError(f"tube {choice[0]}: {told}") from error
    progress(f"{choices[0][0]}: lips for every note")
    document["choices"][0]["notes"] = (
        notes_of_valves(own.builds[0], document["choices"][0], own.delays[0])
        or document["choices"][0]["notes"]
    )
    return document


def _said(label: str, group: str) -> str:
    return {"valves": f"valves {label}", "slide": f"slide at {label}"}.get(group, label)


def cost_of(built: Built) -> float:
    """What a sample costs, in trumpets of 1.5 m: cells outside of long cylinders count alike."""
    return built.bore.length / 1.5


def _choices(scene: Scene, first: Built, tubes):
    """(label, group, scene, TOML of its [instrument]) of everything the page can switch to."""
    given = scene.instrument.model_dump(exclude_defaults=True)
    if given.get("valves") == "auto":  # of notes; here the tube is held
        del given["valves"]
    yield _name(first), "tube", scene, _toml(given)
    numbers = valve_numbers(first.spec)
    for valves in VALVES:
        there = numbers and not set(map(int, valves)) - {0, *numbers}
        if there and valves != held_valves(scene):
            yield valves, "valves", *_with(scene, given | {"valves": valves})
    if has_mark(first.spec, "slide"):
        for position in {*range(1, 8)} - {first_slide_position(scene)}:
            yield str(position), "slide", *_with(scene, given | {"slide_position": float(position)})
    if given.get("name") == "trumpet" and "bell" not in given:
        for label, bell in BELLS[1:]:
            if bell == "none":
                yield label, "tube", *_with(scene, given | {"bell": "none"})
            else:
                yield label, "tube", *_with(scene, {"name": bell})
    for name in tubes:
        if given.get("name") != name:
            yield name.replace("_", " "), "tube", *_with(scene, {"name": name})


def _name(built: Built) -> str:
    given = built.scene.instrument
    return (given.name or "").replace("_", " ") or built.bore.title or given.bore


def _with(scene: Scene, instrument: dict):
    return scene.replace({"instrument": instrument, "player": VISITOR}), _toml(instrument)


def _unheld(scene: Scene) -> dict:
    """[instrument] but for valves and slide, which the hand has."""
    given = scene.instrument.model_dump(exclude_defaults=True)
    return {k: v for k, v in given.items() if k not in ("valves", "slide_position")}


def _tables(scene: Scene) -> dict:
    """TOML of what else the scene says, for a gesture that is kept: `whole` but for lips' motion,
    the sound's length and rate, and steepening, which the page does not do."""
    without = {"air": (), "notes": (), "lips": ("motion", "firmness"),
               "sound": ("length_s", "rate_hz", "steepening")}  # fmt: skip
    lines = {}
    for name, left_out in without.items():
        given = getattr(scene, name).model_dump(mode="json", exclude_defaults=True)
        lines[name] = _lines({k: v for k, v in given.items() if k not in left_out})
    return lines


def _without_mouth(scene: Scene) -> Scene:
    """Lungs that blow the lips directly, and lips that grow firmer only where the scene says so:
    what tubes and slots are worked out for."""
    changes = {"lips.firmness": scene.lips.firmness is True}
    return scene.replace(changes if scene.mouth is None else changes | {"mouth": None})


def _mouth(scene: Scene, air: Air) -> dict:
    """Where the mouth is at first, between what it is moved by hand, Hz, and how it answers."""
    mouth = player_mouth(scene, air) or MOUTH
    low, high = (end(mouth.resonance, f) for end, f in zip((min, max), TONGUE, strict=True))
    kept = ("peak", "compliance", "quality", "glottis")
    return {"on": scene.mouth is not None, "resonance_hz": mouth.resonance,
            "lowest_hz": int(low), "highest_hz": int(np.ceil(high)),
            "air": {name: getattr(mouth, name) for name in kept}}  # fmt: skip


def _mouth_lines(scene: Scene, air: Air) -> str:
    """TOML of what [mouth] says but for its resonance, which the hand has; a vowel's volume."""
    if scene.mouth is None:
        return ""
    given = scene.mouth.model_dump(exclude_none=True, exclude={"resonance_hz", "vowel"})
    if scene.mouth.vowel is not None:
        compliance = player_mouth(scene, air).compliance
        given["volume_ml"] = compliance * air.density * air.sound_speed**2 / ML
    return _lines(given)


def _toml(instrument: dict) -> str:
    return "[instrument]\n" + _lines(instrument)


def _lines(table: dict) -> str:
    def value(v):
        if isinstance(v, dict):
            inside = ", ".join(f"{k} = {value(x)}" for k, x in v.items() if x is not None)
            return f"{{ {inside} }}"
        return str(v).lower() if isinstance(v, bool) else json.dumps(v, ensure_ascii=False)

    return "".join(f"{k} = {value(v)}\n" for k, v in table.items() if v is not None)


def _choice(label, group, scene: Scene, toml: str, rates, own: Tube) -> dict:
    """One row of the page's tubes.  Valves and slide only lengthen lines of the scene's own tube,
    so that no ladder is made for them; where notes hold is found at half the rate."""
    mine = group != "tube" or scene is own.scene
    half = own.builds[-1] if mine else build(scene, held=True, rate=RATES[1])
    bore = scene_bore(scene, scene.spec(), valves=held_valves(scene)) if mine else half.bore
    resonances = kept_resonances(bore, room_air(scene))
    rows = [r for r in rows_of(half, resonances) if r["frequency_hz"] < HIGHEST]
    kept = ("n", "frequency_hz", "sounding", "written")
    z = np.abs(impedance(bore, half.air, CURVE))
    lines = own.delays[-1][held(scene)] if mine else None
    slots = _slots(half, resonances, lines)
    if mine:
        loops = own.loops(scene, group)
    else:
        loops = [loop_of(build(scene, held=True, rate=rate)) for rate in rates]
    return {
        "label": label,
        "group": group,
        "toml": toml,
        "up": -half.transposition,
        "resonances": [{k: r[k] for k in kept} for r in rows],
        "slots": [{k: s[k] for k in SLOT} for s in slots],
        "notes": notes_of_slots(half, slots) if group == "tube" else [],
        "curve_db": np.round(20 * np.log10(z / z.max()), 1).tolist(),
        "loops": loops,
    }


def _field(built: Built) -> dict:
    """The playing field: settings in Hz across, breath in Pa up."""
    scale = built.horn.lips.reference / 233.0
    low, high = (s * scale for s in SETTINGS)
    settings = np.geomspace(low, high, EVEN)
    return {"tension_hz": [low, high], "pressure_pa": HARDEST,
            "even_pa": np.round(even_breath(built.horn.lips, settings)).tolist(),
            "threshold_per_hz": built.horn.lips.threshold_per_hz,
            "curve_hz": np.round(CURVE, 2).tolist()}  # fmt: skip


def even_breath(lips, settings) -> np.ndarray:
    """Breath in Pa that sounds about equally loud for lips anywhere: what is heard goes with the
    breath, hardly with the lips, so that it is mf's in the middle, and more only where that would
    not sound.

    >>> even_breath(players["small"], np.array([200.0, 466.0, 900.0])).round(-2).tolist()
    [6900.0, 7200.0, 9400.0]
    """
    middle, least = lips.breath("mf", lips.middle), SPEAKS * lips.threshold_per_hz * settings
    return (middle**4 + least**4) ** 0.25


def _slots(built: Built, resonances, lines=None) -> list[dict]:
    """Where partials hold in a rising sweep of the lips, at a few pressures; half the rate does."""
    numbered = [(r.n, r.frequency) for r in resonances]
    low, high = _field(built)["tension_hz"]
    rows = []
    for pressure in PRESSURES:
        swept = sweep(
            built.horn, low, high, lambda t, p=pressure: np.full(len(t), p), True, lines, False
        )
        rows += [
            {"pressure_pa": pressure, "partial": r["partial"],
             "from_hz": round(r["tension_from_hz"], 1), "to_hz": round(r["tension_to_hz"], 1),
             "centre_hz": r["centre_tension_hz"], "plays_hz": r["playing_hz"]}
            for r in slot_rows(swept, numbered)
        ]  # fmt: skip
    return rows
