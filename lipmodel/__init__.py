"""Lips on a horn, simulated: sound, pressure traces, pictures and the numbers behind them.

The public names; each is loaded when it is first asked for.  `help(lipmodel.NAME)` says what it
takes, in which units, and what it gives.
"""

from importlib import import_module as _import_module

_HOMES = {  # name: module, and the name there where it is another
    # values
    "Air": "air",
    "Bore": "bore.geometry",
    "Lips": "lips",
    "Scene": "scene.scene",
    "Instrument": "player.instrument",
    "read_bore": "bore.assembly",
    "instrument": "bore.instruments",
    "instruments": "bore.instruments",
    "load_instrument": "player.instrument",
    "read_scene": "scene.scene",
    "players": "lips:PLAYERS",
    # the air column
    "impedance": "acoustics.impedance",
    "reflectance": "acoustics.impedance",
    "reflection_function": "acoustics.reflection",
    "waveguide_reflection": "waveguide.impulse_response",
    "resonances": "acoustics.resonances",
    "field": "acoustics.field",
    "bell_energy": "acoustics.bell",
    "threshold": "analysis.threshold",
    "build_ladder": "waveguide.fit",
    "ladder_reflectance": "waveguide.fit",
    # playing
    "simulate": "player.run",
    "Run": "player.run",
    "notes": "output.results.runs",
    "render": "output.render",
    "Take": "output.render",
    # measuring any signal
    "pitch": "analysis.pitch",
    "harmonics": "analysis.spectrum",
    "loudness": "sound.loudness:loudness_of",
    # studies
    "slots": "output.results.slots",
    "map": "output.results.map",
    "series": "output.results.instruments",
    "chart": "output.results.instruments",
    "why": "output.results.instruments",
    "compare": "output.results.listening",
    "blind_results": "output.results.listening",
    "mirror": "output.results.scenes",
    "echo": "output.results.scenes",
    "bores": "output.results.scenes",
    "energy": "output.results.runs",
    "standing_wave": "output.results.runs",
    "dynamics": "output.results.runs",
    "pair": "output.results.runs",
    # what goes wrong
    "LipmodelError": "errors",
    "SceneError": "errors",
    "SimulationError": "errors",
}
__all__ = sorted(_HOMES)


def __getattr__(name):
    if name not in _HOMES:
        raise AttributeError(f"module 'lipmodel' has no attribute {name!r}")
    module, _, known_as = _HOMES[name].partition(":")
    value = getattr(_import_module(f"lipmodel.{module}"), known_as or name)
    globals()[name] = value
    return value


def __dir__():
    return __all__
