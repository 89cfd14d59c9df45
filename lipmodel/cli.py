"""Words in, exit code out: 0 done, 2 the user can put it right, 1 our bug, 130 stopped by Ctrl-C.

The commands themselves are in `commands/`, loaded when one is asked for, so that help is quick.
"""

import argparse
import contextlib
import os
import sys
from importlib import import_module

from lipmodel.errors import LipmodelError
from lipmodel.paths import outside_allowed
from lipmodel.stopping import Stopped, stoppable

CLEAR = "\r\x1b[K"  # a line of a terminal
KINDS = ("note", "slots", "compare", "tune", "bore", "lesson")
# commands that read scene, bore or lesson files
READ_FILES = (
    "render", "resonances", "slots", "map", "lesson", "compare", "live", "film", "bundle", "chart",
    "why", "check",
)  # fmt: skip


def main(argv: list[str] | None = None) -> int:
    """Run one command; 0 when done, 2 when the user can put it right, 128 and the number of the
    signal that stopped it."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed from the start
            setattr(sys, name, open(os.devnull, "w"))  # noqa: SIM115 - as long as the process
    with stoppable(last=argv is None):
        try:
            code = _run(argv)
        except SystemExit:
            _flushed()
            raise
        return _flushed(code)


def _run(argv) -> int:
    try:
        args = _parser().parse_args(argv)
        with outside_allowed(getattr(args, "allow_outside", False)):
            return import_module(f"lipmodel.commands.{args.command}").run(args) or 0
    except LipmodelError as error:
        _complain(error)
    except BrokenPipeError:
        return 0
    except OSError as error:  # a disk that is full or gone, where no writer saw it
        where = error.filename or "standard output or a scratch file"
        _complain(f"{where}: {error.strerror or error}; nothing was left half-written")
    except KeyboardInterrupt as stop:
        clear = CLEAR if sys.stderr.isatty() else ""  # of the bar, and of the key that was pressed
        _complain(clear + (str(stop) or "stopped; nothing was left half-written"))
        return 128 + getattr(stop, "number", Stopped.number)
    return 2


def _complain(words):
    with contextlib.suppress(OSError):
        print(words, file=sys.stderr, flush=True)


def _flushed(code=0) -> int:
    """`code`, or 2 where all was well but what was said got lost; a reader who has gone is no
    loss."""
    try:
        sys.stdout.flush()
    except OSError as error:
        with contextlib.suppress(OSError):  # nothing may be tried again when Python ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if code == 0 and not isinstance(error, BrokenPipeError):
            _complain(f"standard output: cannot be written ({error.strerror})")
            return 2
    return code


def _parser() -> argparse.ArgumentParser:
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
                        help="the files are results of the blind page: tell them")  # fmt: skip


def _chart(parser):
    parser.add_argument("what", metavar="WHAT", help="built-in name, bore file or scene file")
    parser.add_argument("--celsius", type=float, metavar="T", help="air temperature, 0 to 40")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--out", metavar="DIR", help="write chart.html (one A4 page), JSON, CSV")


def _why(parser):
    parser.add_argument("note", metavar="NOTE", help='written, such as "D4" or "C#4"')
    parser.add_argument("--on", dest="what", required=True, metavar="WHAT",
                        help="built-in name, bore file or scene file")  # fmt: skip
    parser.add_argument("--valves", default=None, metavar="V", help="default: the usual ones")
    parser.add_argument("--celsius", type=float, metavar="T", help="air temperature, 0 to 40")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--out", metavar="DIR", help="write why.html, why.json and both sounds")


def _map(parser):
    parser.add_argument("scene", metavar="SCENE", help="the grid is its [map] table")
    parser.add_argument("--workers", metavar="N", help="processes; default: one a processor")
    parser.add_argument("--json", action="store_true", help="one JSON object and nothing else")
    parser.add_argument("--out", metavar="DIR", help="default: renders/SCENE-map/")
    advanced = parser.add_argument_group("advanced")
    advanced.add_argument(
        "--cluster", metavar="ADDRESS", help='a Dask scheduler, or "local" (extra: cluster)'
    )
