"""What to say where it can hurt: one table of cautions, by what a page holds.

General cautions; local rules and qualified people come first.  NIOSH 98-126, 1998, for the limit
of sound; the rest is common practice, no published source.
"""

from html import escape

LOUD = 85.0  # dB(A), NIOSH's recommended limit for 8 hours a day (NIOSH 98-126, 1998)
HARD = 10.0  # kPa of breath: more than a class needs, ours
START_LOW = "Start with the volume low, above all on headphones."
CHILDREN = "Children's ears need lower limits; follow local rules."
BLOWING = (
    "The model blows harder here than people should: trying to match it can make one dizzy or "
    "faint and harms lips and ears. Leave limits to a qualified teacher, and where there is doubt "
    "to a doctor."
)
EDGES = "Home-made tubes have sharp ends: smooth them before anybody blows."
HYGIENE = "A borrowed mouthpiece carries germs: wash it."
FIRE = (
    "The flame is numbers only. A naked flame in a pipe, hot metal and fumes need a qualified "
    "person and the local fire rules."
)
MARKS = {
    BLOWING: "Do not blow this hard",
    EDGES: "Sharp ends",
    HYGIENE: "Wash the mouthpiece",
    FIRE: "No naked flame in a pipe",
}


def cautions(report) -> list[str]:
    """Of one take, in the order in which they are shown."""
    told = [FIRE] if (report.get("source") or {}).get("kind") == "flame" else []
    told.append(START_LOW)
    loudest = (report.get("level") or {}).get("laf_max_db")
    if loudest is not None and loudest > LOUD:
        told += [_loud(report, loudest), CHILDREN]
    breath = [n.get("pressure_kpa") or 0.0 for n in report.get("notes") or ()]
    inputs = report.get("inputs") or {}
    breath += _written((inputs.get("player") or {}).get("pressure_kpa"))
    if max(breath, default=0.0) > HARD:
        told.append(BLOWING)
    if inputs.get("player") and (report.get("bore") or {}).get("kind") != "instrument":
        told += [EDGES, HYGIENE]
    return told


def once(reports) -> list[str]:
    """Of all takes of a page, for its one box: of what is loud only the loudest."""
    reports = [*reports]
    loudest = max(map(_loudest, reports), default=0.0)
    most = next((cautions(r) for r in reports if _loudest(r) == loudest), [])
    loud = [text for text in most if "dB(A)" in text]
    others = [text for text in of_all(reports) if "dB(A)" not in text]
    return list(dict.fromkeys([START_LOW, CHILDREN, *loud, *others]))


def marks(reports) -> list[str]:
    """The same of the takes of one section in a few words, to stand beside its sounds."""
    texts = of_all(reports)
    loudest = max(map(_loudest, reports), default=0.0)
    loud = [f"Loud: {loudest:.0f} dB(A)"] if loudest > LOUD else []
    return loud + [short for text, short in MARKS.items() if text in texts]


def _loudest(report) -> float:
    return (report.get("level") or {}).get("laf_max_db") or 0.0


def of_all(reports) -> list[str]:
    """Of several takes on one page, each once."""
    return list(dict.fromkeys(text for report in reports for text in cautions(report)))


def box(texts) -> str:
    """The cautions as the page shows them, HTML."""
    inside = "".join(f"<p>{escape(text)}</p>" for text in texts)
    return f'<div class="care">{inside}</div>' if inside else ""


def _written(pressure) -> list[float]:
    """Highest breath that a scene writes, kPa, none where it writes a marking."""
    if isinstance(pressure, list | tuple):
        return [value for _, value in pressure]
    return [pressure] if isinstance(pressure, int | float) else []


def _loud(report, loudest) -> str:
    return (
        f"{place(report)} the real instrument would reach {loudest:.0f} dB(A). Protect your "
        f"hearing: the recommended limit is {LOUD:.0f} dB(A) for 8 hours a day (NIOSH), and much "
        "less time for anything louder."
    )


def place(report) -> str:
    """Where the listener is, as the start of a sentence."""
    if report.get("level", {}).get("place") == "player":
        return "At the player's own ear"
    distance = report.get("inputs", {}).get("sound", {}).get("distance_m")
    return "At the listener" if distance is None else f"At {distance:g} m from the open end"
