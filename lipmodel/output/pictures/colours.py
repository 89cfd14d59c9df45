"""The colours of pictures and pages: the one place where they are written down, each with its one
meaning.

They differ in lightness as well as in hue; those of text and lines have a contrast of at least
4.5 to 1 against white.
"""

SOUND = "#123f73"  # dark blue: what sounds
LIPS = "#b35400"  # burnt orange: what the lips do
BREATH = "#5c7f1e"  # moss: what is blown
PLUM = "#c0357a"  # the way down, the second of several
THIRD = "#3b74b5"  # of several curves
AIR_COLUMN = "#6a6a6a"  # grey: what the air column would like
WALL = "#75654f"  # what the tube's walls take
OVER = "#6a3d9a"  # violet: pressure in the tube over the room's
UNDER = "#0b7a75"  # teal: under it
INK = "#1c1c1c"
PAPER = "#ffffff"
GRID = "#c9c9c9"
FLESH = "#c98a7a"  # of the lips
# partials of a map; neighbours differ in lightness as well: dark, light, dark, light ...
PARTIALS = ("#7a1f5c", "#e08a1e", "#1d4f91", "#63b3a4", "#8c2d19", "#7fa8dc", "#3d6b1f", "#d8709a")
GLIDING = "#a08a5b"  # where the nearest resonance holds nothing at any breath
UNSTEADY = "#b9b9b9"
TINTS = ("#e6ddcf", "#cdbfa9", "#a99778", WALL)  # walls of the tube's parts, from the lips
PAGE = {  # what only pages need
    "quiet": "#3c3c3c",
    "pointed": "#eef3f9",  # a button under the pointer, the open row of a chart
    "pressed": "#0c2c51",
    "care": "#fcefef",
    "warned": "#9c1c1c",
    "band": "#b9cbe2",
    "faint": "#e4e4e4",
    "resonance": "#9a9a9a",
    "dark": "#000000",
    "second": PLUM,  # of several sounds on one axis, after SOUND
    "third": THIRD,
    "fourth": INK,
}


def css_variables() -> str:
    """A rule that gives a page the same colours: `var(--sound)`, `var(--partial-1)` ..."""
    names = "sound", "lips", "air_column", "wall", "over", "under", "ink", "paper", "grid", "flesh"
    names += "gliding", "unsteady"
    table = {name.replace("_", "-"): globals()[name.upper()] for name in names} | PAGE
    table |= {f"partial-{n}": colour for n, colour in enumerate(PARTIALS, 1)}
    return ":root { " + " ".join(f"--{name}: {value};" for name, value in table.items()) + " }\n"
