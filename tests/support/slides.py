"""A bore with a slide: phrases on it, its resonances by position, what is told of its notes."""

import tomllib
from functools import lru_cache

import numpy as np
from support.bores import SLIDE_BORE, slide_scene
from support.music import AIR

from lipmodel.acoustics.resonances import resonances
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import parse_bore
from lipmodel.player import note_names, performance
from lipmodel.player.tubing import held_bore
from lipmodel.scene.scene import read_scene
from lipmodel.studies.notes import Notes

SPEC = parse_bore(tomllib.loads(SLIDE_BORE), "slide.toml", ".")


def played(folder, rest):
    return performance.perform(read_scene(slide_scene(folder, rest)))


def phrase(*notes, kpa=4):
    return f"[player]\npressure_kpa = {kpa}\nphrase = [{', '.join(notes)}]\n"


def lips(position, tension="204", length=1.0, kpa="[[0, 0], [0.02, 4]]"):
    return (
        f"slide_position = {position}\n[player]\ntension_hz = {tension}\npressure_kpa = {kpa}\n"
        f"[sound]\nlength_s = {length}\n"
    )


@lru_cache
def columns():
    """Positions, and the logarithm of the fourth resonance of the exact bore held there."""
    places = np.linspace(1, 3, 9)
    bores = [to_bore(SPEC, slide_position=p) for p in places]
    return places, np.log([resonances(b, AIR, highest=400)[3].frequency for b in bores])


def column(position):
    """Fourth resonance in Hz with the slide held there; between nine positions to 0.01 cent."""
    return np.exp(np.interp(position, *columns()))


def report_rows(run):
    built = run.built
    return Notes(
        run,
        note_names.resonance_rows(built),
        lambda *how: note_names.resonance_rows(built, held_bore(built, *how)),
    ).rows()
