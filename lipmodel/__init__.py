"""Lips on a horn, simulated: sound, pressure traces, pictures and the numbers behind them.

The public names; each is loaded when it is first asked for.
"""

from importlib import import_module

HOMES = {
    "Air": "air",
    "Bore": "bore.geometry",
    "read_bore": "bore.assembly",
    "instrument": "bore.instruments",
    "reflectance": "acoustics.impedance",
    "impedance": "acoustics.impedance",
    "reflection_function": "acoustics.reflection",
    "resonances": "acoustics.resonances",
    "waveguide_reflection": "waveguide.impulse_response",
    "read_scene": "scene.scene",
    "simulate": "player.run",
    "Run": "player.run",
    "render": "output.render",
    "LipmodelError": "errors",
    "SceneError": "errors",
    "SimulationError": "errors",
}
__all__ = sorted(HOMES)


def __getattr__(name):
    if name not in HOMES:
        raise AttributeError(f"module 'lipmodel' has no attribute {name!r}")
    value = getattr(import_module(f"lipmodel.{HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__():
    return sorted({*globals(), *HOMES})
