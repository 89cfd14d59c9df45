"""Sentences about a tube that nobody blows, from the numbers of its report."""

MOST_TOLD = 4
TOLD_SHARE = 0.01  # of the energy: less is told with "the rest"
CLOSE = 5.0  # cents within which a peak is told to be a resonance
CARE = (
    "This flame exists only as numbers. Do not try it with fire: a naked flame, hot metal and "
    "fumes need a qualified person and the local fire rules."
)
BEGUN = {
    "pop": "One slap on the closed lip end, and nobody blows: the tube rings by itself.",
    "breath": "Only rushing air, which has no pitch of its own; the tube gives it one.",
    "tone": "A loudspeaker sweeps from {:.0f} to {:.0f} Hz as evenly as it can; the tube does not "
    "answer evenly.",
}


def source_sentences(report: dict) -> list[str]:
    """What was put in, what the tube made of it, and what to keep away from."""
    source = report["source"]
    if source["kind"] == "flame":
        return [*_flame(report, source), CARE]
    sentences = [BEGUN[source["kind"]].format(*source.get("sweep_hz", ()))]
    if report["notes"]:
        note = report["notes"][0]
        sentences.append(
            f"Strongest at {note['frequency_hz']:.1f} Hz ({note['sounding']}, sounding): resonance "
            f"{note['partial']} of the tube, {note['cents_from_resonance']:+z.1f} cents from it."
        )
    sentences += _heard(source)
    share = _share(report["energy"])
    return [*sentences, share] if share else sentences


def _heard(source) -> list[str]:
    heard = source["heard"]
    if not heard:
        return [
            "No peak of the sound is a resonance of the tube: none lies in the band that was put "
            "in, or the sound is over too soon."
        ]
    worst = max(abs(h["cents_from_resonance"]) for h in heard)
    first = ", ".join(f"{h['frequency_hz']:.0f}" for h in heard[:MOST_TOLD])
    more = ", ..." if len(heard) > MOST_TOLD else ""
    are = "are" if worst <= CLOSE else "lie near"
    return [
        f"The peaks of the sound, {first}{more} Hz, {are} the tube's own resonances: {len(heard)} "
        f"of them, within {max(worst, 0.1):.1f} cents."
    ]


def _share(energy) -> str:
    if not energy["into_bore_j"] > 0:
        return ""
    share = energy["radiated_j"] / energy["into_bore_j"]
    still = energy["stored_j"] / energy["into_bore_j"]
    left = f"{100 * still:.1f} % was still in the tube at the end; " if still >= TOLD_SHARE else ""
    out = percent(share)
    told = f"{out[:1].upper()}{out[1:]} of what was put in left as sound"
    return f"{told}; {left}the rest warmed the walls."


def percent(share: float) -> str:
    """A share to a tenth of a percent."""
    return "less than 0.1 %" if share < 5e-4 else f"{100 * share:.1f} %"


def _flame(report, source) -> list[str]:
    where = (
        f"heat {source['placed_mm']:.0f} mm from the lower end, {source['lag_ms']:g} ms behind "
        "the motion of the air"
    )
    if not source["draught"]:
        ends = report["inputs"]["source"]["lip_end"]
        which = "lip end" if ends == "closed" else "far end"
        return [
            f"Silent ({where}): the {which} is closed, so no draught passes the flame and its "
            "heat cannot follow the motion of the air."
        ]
    notes = [n for n in report["notes"] if n["frequency_hz"] is not None]
    if notes:
        note = notes[0]
        return [
            f"The tube sings by itself at {note['frequency_hz']:.1f} Hz ({note['sounding']}, "
            f"sounding), {note['cents_from_resonance']:+z.1f} cents from its resonance "
            f"{note['partial']}: {where}.",
            "The heat comes while the pressure is high, so each swing is fed (Rayleigh 1878); it "
            "grows until the heat cannot follow any further.",
        ]
    return [f"Silent: {where}.", _why_silent(source)]


def _why_silent(source) -> str:
    modes = source["rayleigh"]
    if not modes:
        return "The tube has no resonance here."
    best = max(modes, key=lambda m: m["fed_per_s"] - m["lost_per_s"])
    if best["grows"]:
        return (
            f"Resonance {best['n']} grows, but by no more than "
            f"{best['fed_per_s'] - best['lost_per_s']:.1f} e-folds a second: too slow to be heard "
            "in this time."
        )
    if best["fed_per_s"] <= 0:
        return "The heat comes while the pressure is low: it takes from every swing (Rayleigh)."
    return (
        f"Resonance {best['n']} would be fed by {best['fed_per_s']:.1f} e-folds a second, but "
        f"walls and ends take {best['lost_per_s']:.1f}."
    )


def source_seen(report: dict) -> str:
    """The picture in words, for those who cannot see it."""
    source = report["source"]
    heard = [n["frequency_hz"] for n in report["notes"]]
    heard += [h["frequency_hz"] for h in source["heard"][:MOST_TOLD]]
    peaks = ", ".join(f"{f:.0f}" for f in heard)
    named = f"with peaks at {peaks} Hz" if source["sounds"] and peaks else "without a peak to name"
    return (
        f"Three charts. First, the flow put into the tube over {report['length_s']:g} seconds. "
        "Second, the pressure at the lip end against time. Third, the spectrum against frequency, "
        f"{named}, over dotted lines at the resonances of the tube."
    )
