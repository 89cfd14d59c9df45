"""lipmodel instruments"""

from lipmodel.bore.instruments import instruments
from lipmodel.files import tables


def run(args) -> int:
    rows = [one.to_dict() for one in instruments()]
    if args.json:
        print(tables.json_text({"instruments": rows}), end="")
        return 0
    width = max(len(r["name"]) for r in rows)
    for r in rows:
        valves = f", {r['valves']} valves" if r["valves"] else ", slide" if r["slide"] else ""
        pitch = f", in {r['pitched_in']}" if r["kind"] == "instrument" else ""
        print(f"{r['name']:{width}} {r['title']} ({r['length_m']:.2f} m{pitch}{valves})")
    return 0
