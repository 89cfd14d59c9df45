"""The room in a report: which one was added, and how strong it is beside the direct sound."""

from lipmodel.files.long_arrays import peak
from lipmodel.output.report_types import Report, Room
from lipmodel.sound.room import EARS, OCTAVES, images

MEASURED = slice(0, 6)  # octaves from 125 to 4000 Hz, those of ISO 3382-1
MIDDLE = 1000.0  # Hz


def room_row(performance) -> Room | None:
    """What was around horn and ears; None in free field."""
    built = performance.built
    room, given = built.room, built.scene.sound.room
    if room is None:
        return None
    octaves = OCTAVES[MEASURED]
    over = performance.room_over_direct if _sounds(performance) else None
    taken = 1 - room.returned(MIDDLE, built.outside.sound_speed)
    return {
        "name": given if isinstance(given, str) else "room",
        "size_m": list(room.size),
        "octaves": {
            "frequency_hz": octaves.tolist(),
            "reverberation_s": room.time(octaves).round(4).tolist(),
        },
        "wall_takes": round(float(taken), 4),
        "bell_height_m": built.bell_height,
        "bell_up": built.spec.bell_up,
        "reflections": len(images(room, built.placed(built.ears[0]))),
        "over_direct_db": None if over is None else round(over, 2),
    }


def _sounds(performance) -> bool:
    """Whether there is anything to hear: lips that settle unblown are not."""
    if performance.built.scene.source:
        return performance.sounds
    return peak(performance.in_mouth) > 0


def room_sentences(report: Report) -> list[str]:
    """Which room was added to the sound, how strong it is, and how many ears there are."""
    row, given = report.get("room"), report["inputs"]["sound"]
    told = [] if not row else [_around(row, given)]
    if given.get("stereo"):
        told.append(f"Two ears {100 * EARS:.0f} cm apart, without a head between: for headphones.")
    return told


def _around(row, given) -> str:
    size = " x ".join(f"{m:g}" for m in row["size_m"])
    middle = row["octaves"]["reverberation_s"][row["octaves"]["frequency_hz"].index(MIDDLE)]
    told = f"Heard in a made-up {row['name']} of {size} m, in which sound fades by 60 dB in "
    told += f"{middle:.2f} s"
    up = " The bell points up." if row["bell_up"] else ""
    over = row["over_direct_db"]
    if over is None:
        return f"{told}.{up}"
    where = "the player's ear" if given["place"] == "player" else f"{given['distance_m']:g} m"
    much = f"{abs(over):.0f} dB {'more' if over > 0 else 'less'} than"
    much = "as much as" if abs(over) < 0.5 else much
    return f"{told}: at {where} its walls send back {much} comes directly.{up}"
