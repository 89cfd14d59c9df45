"""Argparse, all options."""

import argparse

KINDS = ("note", "slots", "compare", "tune", "bore", "lesson")
# commands that read scene, bore or lesson files
READ_FILES = (
    "render", "resonances", "slots", "map", "lesson", "compare", "live", "film", "bundle", "chart",
    "why", "check",
)  # fmt: skip


def make_parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="lipmodel",
        description="Lips on a horn, simulated: sound, pressure traces, pictures and numbers.",
        epilog="Start with: lipmodel new note my.toml, then lipmodel render my.toml",
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _render(commands.add_parser("render", help="play scenes: sound, picture, page, numbers"))
    new = commands.add_parser("new", help="write a commented starter file")
    new.add_argument("kind", choices=KINDS, metavar="KIND", help=", ".join(KINDS))
    new.add_argument("file", metavar="FILE", help="file to write; must not exist yet")
    _resonances(commands.add_parser("resonances", help="resonances of an instrument or bore"))
    slots = commands.add_parser("slots", help="where each note holds, bends and jumps")
    slots.add_argument("scene", metavar="SCENE")
    slots.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    slots.add_argument("--out", metavar="DIR", help="default: renders/")
    _map(commands.add_parser("map", help="every lip setting and breath: what sounds where"))
    _lesson(commands.add_parser("lesson", help="scenes on one page, for the screen and for home"))
    _compare(commands.add_parser("compare", help="sounds equally loud, to hear beside each other"))
    live = commands.add_parser("live", help="the instrument itself on one page, under your hand")
    live.add_argument("scene", nargs="?", metavar="SCENE", help="default: the trumpet as built in")
    live.add_argument("--out", metavar="FILE.html", help="default: renders/live.html")
    live.add_argument(
        "--tubes", nargs="*", metavar="NAME",
        help="instruments to switch to (default: hailing_cone hose)",
    )  # fmt: skip
    live.add_argument("--open", action="store_true", help="open the page when done")
    film = commands.add_parser("film", help="a clip for a video, with sound (extra: film)")
    film.add_argument("scene", metavar="SCENE")
    film.add_argument("--out", metavar="FILE.mp4", help="default: renders/SCENE.mp4")
    film.add_argument("--upright", action="store_true", help="1080 x 1920, for a telephone")
    bundle = commands.add_parser("bundle", help="scenes, sounds, figures and a rerun, as a zip")
    bundle.add_argument("scenes", nargs="+", metavar="SCENE")
    bundle.add_argument("--out", metavar="FILE.zip", help="default: renders/SCENE.zip")
    _chart(commands.add_parser("chart", help="every note with its fingerings or positions"))
    _why(commands.add_parser("why", help="why a note is sharp, flat, weak or impossible"))
    listing = commands.add_parser("instruments", help="what is built in")
    listing.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    check = commands.add_parser("check", help="read and validate scene and bore files only")
    check.add_argument("files", nargs="+", metavar="FILE")
    commands.add_parser("ready", help="compile, self-check, say what is installed")
    for name in READ_FILES:
        commands.choices[name].add_argument(
            "--allow-outside", action="store_true",
            help="let the files name others outside their folder (only if you trust them)",
        )  # fmt: skip
    return parser


def _render(parser):
    parser.add_argument("scenes", nargs="+", metavar="SCENE")
    parser.add_argument("--out", default="renders", metavar="DIR", help="default: renders/")
    parser.add_argument("--open", action="store_true", help="open the page when done")
    parser.add_argument("--figures", default="", metavar="KINDS", help="also svg, pdf (svg,pdf)")
    parser.add_argument(
        "--csv",
        nargs="?",
        const="thin",
        choices=("thin", "full"),
        help="traces.csv at 1 kHz, or full",
    )


def _resonances(parser):
    parser.add_argument("what", metavar="WHAT", help="built-in name, bore file or scene file")
    parser.add_argument("--celsius", type=float, metavar="T", help="air temperature, 0 to 40")
    parser.add_argument("--valves", default=None, metavar="V", help='"0", "2", "13" ... or "all"')
    parser.add_argument("--variant", metavar="NAME", help="of a scene: its name, or all")
    parser.add_argument("--against", metavar="CSV", help="measured impedance to lay over it")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--out", metavar="DIR", help="write picture.png and impedance.csv")


def _lesson(parser):
    parser.add_argument("files", nargs="+", metavar="FILE", help="a lesson file, or scenes")
    parser.add_argument("--out", metavar="FILE.html", help="default: renders/FILE.html")
    parser.add_argument("--workers", metavar="N", help="for a map; default: one a processor")
    parser.add_argument("--open", action="store_true", help="open the page when done")


def _compare(parser):
    parser.add_argument("files", nargs="+", metavar="SCENE", help="scenes, with their variants")
    parser.add_argument("--hold", choices=("lips", "pitch", "effort"),
                        help="what the player keeps; default: lips")  # fmt: skip
    parser.add_argument("--out", metavar="DIR", help="default: renders/compare-SCENE/")
    parser.add_argument("--read", action="store_true",
                        help="the files or folders hold results of the blind page")  # fmt: skip


def _chart(parser):
    parser.add_argument("what", metavar="WHAT", help="built-in name, bore file or scene file")
    parser.add_argument("--celsius", type=float, metavar="T", help="air temperature, 0 to 40")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--out", metavar="DIR", help="write chart.html (one A4 page), JSON, CSV")


def _why(parser):
    parser.add_argument("note", metavar="NOTE",
                        help='written, such as "D4" or "C#4"; or "sounding:C4"')  # fmt: skip
    parser.add_argument("--on", dest="what", required=True, metavar="WHAT",
                        help="built-in name, bore file or scene file")  # fmt: skip
    parser.add_argument("--valves", default=None, metavar="V", help="default: the usual ones")
    parser.add_argument("--position", type=float, metavar="P", help="of the slide, 1 to 7")
    parser.add_argument("--celsius", type=float, metavar="T", help="air temperature, 0 to 40")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--out", metavar="DIR", help="write why.html, why.json and both sounds")


def _map(parser):
    parser.add_argument("scene", metavar="SCENE", help="the grid is its [map] table")
    parser.add_argument("--mouth-hz", nargs=2, metavar=("FROM", "TO"),
                        help="rows are resonances of the mouth, 100 to 2000")  # fmt: skip
    parser.add_argument("--pressure-kpa", metavar="P", help="the one breath of such rows")
    parser.add_argument("--workers", metavar="N", help="processes; default: one a processor")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument(
        "--out", metavar="DIR", help="default: renders/SCENE-map/, or SCENE-mouth-map/"
    )
    advanced = parser.add_argument_group("advanced")
    advanced.add_argument(
        "--cluster", metavar="ADDRESS", help='a Dask scheduler, or "local" (extra: cluster)'
    )
