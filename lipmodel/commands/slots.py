"""lipmodel slots"""

from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import bar
from lipmodel.files import folders, tables
from lipmodel.output.results.slots import Slots, slots
from lipmodel.player.warm_up import warm_up
from lipmodel.scene.scene import read_scene
from lipmodel.studies.slots import sweep_table
from lipmodel.units import nearest_note, note_name


def run(args) -> int:
    scene = read_scene(args.scene)
    scene.needs_player("lipmodel slots")
    with bar(3, "{desc} {bar}", args.json) as progress:
        warm_up(progress.say)
        found = slots(scene, progress=progress)
        if not args.json or args.out:
            place = target.folder(args.out, "") / f"{Path(args.scene).stem}-slots"
            progress.step("drawing")
            _write(place, found)
    if args.json:
        print(tables.json_text(found.to_dict()), end="")
        return 0
    _tell(found.built, found.found)
    print(f"Wrote {place / 'picture.png'}, slots.json and sweep.csv beside it")
    return 0


def _tell(built, found):
    print(f"{built.scene.title or Path(built.scene.path).stem}: where each note holds")
    for words, rows in (("going up", found.up_rows), ("going down", found.down_rows)):
        print(f"\n{words}: partial  note     setting from-to Hz (cents)  plays Hz  from peak"
              "  lock  bends below/above  jumps at")  # fmt: skip
        for row in rows:
            print(_line(built, row))
    if not found.up_rows and not found.down_rows:
        print("No slot: the pitch follows the lips.")


def _line(built, row) -> str:
    notes = built.scene.notes
    semitone, _ = nearest_note(row["playing_hz"], notes.a4_hz)
    name = note_name(semitone - built.transposition, notes.spelling)
    jump = "-" if row["jump_tension_hz"] is None else f"{row['jump_tension_hz']:.0f}"
    return (
        f"{row['partial']:17d}  {name:6} {row['tension_from_hz']:9.0f} -"
        f"{row['tension_to_hz']:5.0f}  ({row['lip_width_cents']:4.0f})    "
        f"{row['playing_hz']:10.1f}  {row['cents_from_resonance']:+8.0f}  {row['lock']:5.2f}  "
        f"{row['bend_below_cents']:8.0f}/{row['bend_above_cents']:<8.0f} {jump:>8}"
    )


def _write(place: Path, found: Slots):
    from lipmodel.output.pictures.image_file import figure_bytes

    with folders.folder_written(place) as work:
        (work / "picture.png").write_bytes(figure_bytes(found.figure()))
        (work / "slots.json").write_text(tables.json_text(found.to_dict()), encoding="utf-8")
        table = sweep_table(found.found)
        (work / "sweep.csv").write_text(tables.columns_csv(table), encoding="utf-8")
