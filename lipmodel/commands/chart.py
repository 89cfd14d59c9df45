"""lipmodel chart"""

from pathlib import Path

from lipmodel.files import folders, tables
from lipmodel.output.results.instruments import chart
from lipmodel.studies.chart import chart_csv, how, pull_words
from lipmodel.units import sharp_or_flat

MOST_SHOWN = 3  # alternatives on a line


def run(args) -> int:
    document = chart(args.what, args.celsius).to_dict()
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
    print(f"written  sounding       Hz  {kind:12} {'usual':40} alternatives")
    for note in document["notes"]:
        start = f"{note['written']:7}  {note['sounding']:8}  {note['frequency_hz']:7.2f}"
        if not note["options"]:
            print(f"{start}  {'-':12} not on this instrument")
            continue
        first, *others = note["options"]
        shown = "; ".join(f"{how(o, slide)} {_gives(o)}" for o in others[:MOST_SHOWN])
        more = f"; and {n} more" if (n := len(others) - MOST_SHOWN) > 0 else ""
        print(f"{start}  {how(first, slide):12} {_gives(first):40} {shown}{more}".rstrip())


def _gives(row) -> str:
    pull = pull_words(row)
    return f"{sharp_or_flat(row['cents'])}{pull and ', '}{pull}"


def _write(folder: Path, document):
    from lipmodel.output.pages.chart import chart_page

    with folders.folder_written(folder) as work:
        (work / "chart.html").write_text(chart_page(document), encoding="utf-8")
        (work / "chart.json").write_text(tables.json_text(document), encoding="utf-8")
        (work / "chart.csv").write_text(chart_csv(document), encoding="utf-8")
