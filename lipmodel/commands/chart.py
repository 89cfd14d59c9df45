"""lipmodel chart"""

from pathlib import Path

from lipmodel.commands.progress import STAGES, bar
from lipmodel.files import folders, tables
from lipmodel.output.results.instruments import chart
from lipmodel.player.warm_up import warm_up
from lipmodel.studies.chart import (
    chart_csv,
    disagreements,
    gives,
    how,
    pull_words,
    range_words,
    weighed,
)

MOST_SHOWN = 3  # alternatives on a line


def run(args) -> int:
    with bar(form=STAGES, delay=1.0) as progress:
        warm_up(progress.say)
        document = chart(args.what, args.celsius, progress=progress).to_dict()
    if args.out:
        _write(Path(args.out), document)
    if args.json:
        print(tables.json_text(document), end="")
        return 0
    _tell(document)
    if args.out:
        print(f"Wrote {Path(args.out) / 'chart.html'}, chart.json and chart.csv beside it")
    return 0


def _tell(document):
    slide = document["slide"]
    print(f"{document['what']}, {document['celsius']:g} degrees C")
    kind = "position" if slide else "valves"
    if document["tuning"]:
        print(document["tuning"])
    print(
        f"written  sounding       Hz  {kind:12} {'rests at mf':38} {'softer, louder':34} other ways"
    )
    for note in document["notes"]:
        start = f"{note['written']:7}  {note['sounding']:8}  {note['frequency_hz']:7.2f}"
        if not note["options"]:
            print(f"{start}  {'-':12} not on this instrument")
            continue
        first, *others = note["options"]
        shown = "; ".join(f"{how(o, slide)} {_gives(o)}" for o in others[:MOST_SHOWN])
        more = f"; and {n} more" if (n := len(others) - MOST_SHOWN) > 0 else ""
        held = f"{how(first, slide):12} {_gives(first):38} {range_words(first):34}"
        print(f"{start}  {held} {shown}{more}".rstrip())
    if words := weighed(document):
        print(words)
    for name, held, players in disagreements(document):
        print(f"  {name} ({held}): players find it {players}")
    if any(o["pedal"] for n in document["notes"] for o in n["options"]):
        print(
            "Pedal: little holds it, the lips alone keep its pitch; it speaks from the marking on."
        )


def _gives(row) -> str:
    pull = pull_words(row)
    return f"{gives(row)}{pull and ', '}{pull}"


def _write(folder: Path, document):
    from lipmodel.output.pages.chart import chart_page

    with folders.folder_written(folder) as work:
        (work / "chart.html").write_text(chart_page(document), encoding="utf-8")
        (work / "chart.json").write_text(tables.json_text(document), encoding="utf-8")
        (work / "chart.csv").write_text(chart_csv(document), encoding="utf-8")
