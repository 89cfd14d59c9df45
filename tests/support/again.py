"""A take's own report made into files again: all that a repeat needs stands in it."""

from typing import get_args

from support.drawn import lines, toml

from lipmodel.files.schema import Table
from lipmodel.scene.scene import Scene

PARTS = ("name", "bore", "mouthpiece", "leadpipe", "bell", "mute", "hand")  # all in the bore itself


def _model(annotation):
    """The table's model in an annotation such as tuple[Note, ...] | None."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    return next((m for m in map(_model, get_args(annotation)) if m), None)


def _said(value, model):
    """A table of inputs without what is at its default, which some keys may not be beside."""
    if isinstance(value, list):
        return [_said(v, model) for v in value]
    if model is None or not isinstance(value, dict):
        return value
    kept = {}
    for key, inner in value.items():
        field = model.model_fields[key]
        default = field.get_default()
        if isinstance(default, Table):
            default = default.model_dump(mode="json")
        if inner is None or inner == default:
            continue
        kept[key] = _said(inner, _model(field.annotation))
    return kept


def written_again(report, folder, name="scene.toml"):
    """The scene file `name` in `folder`, with its bore, from a report alone."""
    bore = {k: v for k, v in report["bore"].items() if k not in ("section", "valves")}
    sections = "".join(f"[[section]]\n{lines(s)}" for s in report["bore"]["section"])
    valves = f"[valves]\n{lines(report['bore']['valves'])}" if "valves" in report["bore"] else ""
    (folder / "bore.toml").write_text(lines(bore) + valves + sections, "utf-8")
    said = _said(report["inputs"], Scene)
    instrument = {k: v for k, v in said["instrument"].items() if k not in PARTS}
    said["instrument"] = {"bore": "bore.toml", **instrument}
    texts = {k: v for k, v in said.items() if not isinstance(v, dict)}
    tables = "".join(f"[{k}]\n{lines(v)}" for k, v in said.items() if k not in texts)
    text = "".join(f"{k} = {toml(v)}\n" for k, v in texts.items())
    (folder / name).write_text(text + tables, "utf-8")
    return folder / name
