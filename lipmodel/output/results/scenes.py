"""What the bores of a scene and its variants are, as results: `lipmodel.mirror`, `lipmodel.echo`
and `lipmodel.bores`."""

from lipmodel.errors import SceneError
from lipmodel.output.results.arguments import check_scene
from lipmodel.output.results.result import Result, title_of
from lipmodel.studies import bores as family
from lipmodel.studies import echo as click
from lipmodel.studies import mirror as bells


class _OfScene(Result):
    __slots__ = ("found", "scene")


class Mirror(_OfScene):
    """`members`: shares of the energy that each bell sends back at `curve_hz`; `partials`: where
    in the first bell each turns (m)."""


class Echo(_OfScene):
    """`members`: pressure that comes back over the height of a click, every 1/`rate_hz` s;
    `marks`, `returns`: when and from where; `sound`: the click, -1 to 1."""


class Bores(_OfScene):
    """`members`: shapes (m) and resonances (Hz) side by side; `quarter_wave_hz`."""


def mirror(scene) -> Mirror:
    """What every bell of `scene` and its variants sends back of the sound.  TypeError.

    >>> found = mirror(scene)  # doctest: +SKIP
    >>> found.members[0].half_hz, found.sentences[0]  # doctest: +SKIP
    """
    check_scene("mirror", scene)
    return _of(Mirror, scene, bells.mirror(scene), _mirror_drawn)


def echo(scene) -> Echo:
    """One click into every bore of `scene`, and what comes back.  TypeError, SceneError.

    >>> found = echo(scene)  # doctest: +SKIP
    >>> found.members[0].end_s, found.sentences[0]  # doctest: +SKIP
    """
    check_scene("echo", scene)
    return _of(Echo, scene, click.echoes(scene), _echo_drawn)


def bores(scene) -> Bores:
    """The bores of `scene` and its variants side by side; SceneError where fewer than three
    differ.  TypeError.

    >>> found = bores(scene)  # doctest: +SKIP
    >>> found.members[0].resonances_hz, found.sentences[0]  # doctest: +SKIP
    """
    check_scene("bores", scene)
    found = family.bores(scene)
    if found is None:
        raise SceneError(f"{scene.path}: bores: expected variants with three different bores")
    return _of(Bores, scene, found | {"sentences": [found["sentence"]]}, _bores_drawn)


def _of(kind, scene, found: dict, draw):
    plain = {k: v for k, v in found.items() if k not in ("sentences", "sentence")}
    result = kind(plain, draw, found["sentences"])
    object.__setattr__(result, "scene", scene)
    object.__setattr__(result, "found", found)
    return result


def _mirror_drawn(result):
    from lipmodel.output.pictures.mirror import mirror_figure

    notes = result.scene.notes
    return mirror_figure(title_of(result.scene), result.found, notes.a4_hz, notes.spelling)


def _echo_drawn(result):
    from lipmodel.output.pictures.echo import echo_figure

    return echo_figure(title_of(result.scene), result.found)


def _bores_drawn(result):
    from lipmodel.output.pictures.bores import bores_figure

    notes = result.scene.notes
    return bores_figure(title_of(result.scene), result.found, notes.a4_hz, notes.spelling)
