"""Everything that a reader needs to repeat some scenes, in one zip file.

Scenes with the files that they name, every take with its sound, pictures and figures, the input
impedance, versions, digests, a paragraph on methods, and one script that renders it all again.
"""

import io
import os
import platform
import zipfile
from importlib import metadata
from pathlib import Path

from lipmodel.acoustics.impedance import TABLE, impedance
from lipmodel.errors import SceneError
from lipmodel.files import tables
from lipmodel.files.atomic import scratch
from lipmodel.files.paths import files_named
from lipmodel.output.render import Take, takes
from lipmodel.player.build import build
from lipmodel.scene.scene import project_folder, read_scene
from lipmodel.system.versions import machine, version

PACKAGES = ("numpy", "scipy", "numba", "soundfile", "matplotlib", "pydantic", "pyloudnorm")
WHEN = (1980, 1, 1, 0, 0, 0)  # a zip holds a date: always the same one


def bundle(paths, writer=None, progress=None) -> bytes:
    """The zip file of the scene files at `paths`; `writer` and `progress` as in `render.takes`.
    Raises SceneError or SimulationError."""
    names = _names(paths)
    entries, scenes = {}, []
    with scratch() as folder:
        for path, name in zip(paths, names, strict=True):
            inside, used = _scene_files(Path(path))
            entries |= {f"scenes/{name}/{file}": data for file, data in used.items()}
            how = {"figures": ("svg", "pdf"), "csv": "thin", "writer": writer}
            reports, folders = [], []
            for take, built in zip(
                takes(path, folder, progress=progress, **how), _built(path), strict=True
            ):
                entries |= _entries(take, built)
                reports.append(take.report)
                folders.append(take.name)
            scenes.append({"file": f"scenes/{name}/{inside}", "title": reports[0]["title"],
                           "takes": folders, "methods": methods(reports)})  # fmt: skip
    return _zipped(entries | _around(scenes))


def _names(paths):
    names = [Path(p).stem for p in paths]
    for name in names:
        if names.count(name) > 1:
            raise SceneError(f"{name}: two scenes of this name; expected different names")
    return names


def _scene_files(path: Path) -> tuple[str, dict]:
    """Name of a scene in the bundle, and {name: bytes} of it and of what it names.

    All lie as they lie in the project's folder, by the names that the scene gives them, links
    followed.  Files beside that folder (--allow-outside) lift the top to the folder that holds
    them all: nothing in the bundle leaves it.  SceneError for a file named by an absolute path.
    """
    with files_named() as named:
        read_scene(os.path.relpath(path))  # so that what is absolute was named so
    root, folder = project_folder(path.parent), path.parent.resolve()
    files = {folder / path.name: path}
    for file in named:
        # not resolved: the bundle must hold it where the scene looks for it
        inside = os.path.relpath(os.path.abspath(file), os.path.abspath(path.parent))
        files[Path(os.path.normpath(folder / inside))] = file
    if absolute := [str(f) for f in named if f.is_absolute()]:
        raise SceneError(
            f"{path}: names {absolute[0]} by an absolute path, which nobody else has; expected a "
            "path that starts at the scene's folder"
        )
    top = Path(os.path.commonpath([root, *(place.parent for place in files)]))
    inside = {p.relative_to(top).as_posix(): file.read_bytes() for p, file in files.items()}
    # what marks the project's folder, which the files of a scene may not leave
    inside.setdefault("pyproject.toml", b'[project]\nname = "bundle"\nversion = "1"\n')
    return (folder / path.name).relative_to(top).as_posix(), inside


def _built(path):
    """Every variant of a scene as physics, in turn."""
    return (build(variant.scene) for variant in read_scene(path).variants)


def _entries(take: Take, built) -> dict:
    """Files of a take in the bundle, and its input impedance; traces.npz is left out (50 bytes a
    sample, and made again by rerun.py), traces.csv goes in."""
    entries = {f"takes/{take.name}/{name}": take.file(name) for name in take.file_names()}
    z = impedance(built.bore, built.air, TABLE)
    columns = {"frequency_hz": TABLE, "real_pa_s_m3": z.real, "imaginary_pa_s_m3": z.imag}
    entries[f"takes/{take.name}/impedance.csv"] = tables.columns_csv(columns).encode()
    return entries


def methods(reports) -> str:
    """A paragraph for a paper: how these takes were made, with the numbers of the first."""
    first = reports[0]
    given, air = first["inputs"], first["air"]
    instrument = given["instrument"]
    what = instrument["name"] or instrument["bore"]
    lips = (
        "a source in place of a player"
        if first.get("source")
        else (
            f"lips of two degrees of freedom (after Adachi and Sato 1996), motion = "
            f'"{given["lips"]["motion"]}"'
        )
    )
    steep = first.get("steepening")
    steep = " Waves that leave steepen (Hopf-Lax)." if steep and steep["on"] else ""
    changed = "; ".join(
        f"{r['variant']}: {', '.join(r['changed'])}" for r in reports[1:] if r["changed"]
    )
    changed = f" Variants: {changed}." if changed else ""
    return (
        f"{first['title']}. {what} was simulated in the time domain at {first['rate_hz']:g} Hz "
        f"with lipmodel {first['version']}: {lips}, coupled to a ladder of cylindrical cells "
        f"(Kelly and Lochbaum) fitted to the lossy transmission matrix of the bore (Zwikker and "
        f"Kosten), open end after Levine and Schwinger. Air: {air['temperature_c']:g} degrees C, "
        f"{air['sound_speed_m_s']:.2f} m/s, {air['density_kg_m3']:.4f} kg/m3. Seed "
        f"{given['sound']['seed']}.{steep}{changed}"
    )


def _around(scenes) -> dict:
    """What the bundle says of itself."""
    packages = {"lipmodel": version()} | {p: metadata.version(p) for p in PACKAGES}
    versions = {
        "python": platform.python_version(),
        "machine": machine(),
        "packages": packages,
    }
    methods = "\n\n".join(s["methods"] for s in scenes)
    pins = "".join(f"{k}=={v}\n" for k, v in packages.items() if v != "unknown")
    index = [{k: s[k] for k in ("file", "title", "takes")} for s in scenes]
    entries = {
        "index.json": tables.json_text({"scenes": index}),
        "versions.json": tables.json_text(versions),
        "requirements.txt": pins,
        "methods.md": f"# Methods\n\n{methods}\n\nTo repeat it: `python rerun.py`.\n",
        "rerun.py": (Path(__file__).parent / "rerun.txt").read_text("utf-8"),
    }
    return {name: text.encode() for name, text in entries.items()}


def _zipped(entries: dict) -> bytes:
    sums = "".join(f"{tables.digest(data)}  {name}\n" for name, data in sorted(entries.items()))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, data in sorted({**entries, "SHA256SUMS": sums.encode()}.items()):
            info = zipfile.ZipInfo(name, WHEN)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(info, data)
    return out.getvalue()
