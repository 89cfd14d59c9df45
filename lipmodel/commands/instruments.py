"""lipmodel instruments"""

from lipmodel import borefile, files, instruments


def row(name: str) -> dict:
    """What `instruments --json` says of a built-in bore."""
    spec = instruments.spec(name)
    bore = borefile.to_bore(spec)
    cylinders = [s.diameter_mm for s in spec.section if s.shape == "cylinder"]
    return {
        "name": name,
        "title": spec.title,
        "kind": spec.kind,
        "length_m": round(bore.length, 4),
        "bore_mm": cylinders[0] if cylinders else None,
        "bell_mm": round(2e3 * float(bore.radius[-1]), 2),
        "pitched_in": spec.pitched_in,
        "transposition_semitones": spec.transposition_semitones,
        "valves": len(borefile.valve_numbers(spec)),
        "slide": borefile.has_mark(spec, "slide"),
        "player": spec.player,
    }


def run(args) -> int:
    rows = [row(name) for name in instruments.names()]
    if args.json:
        print(files.json_text({"instruments": rows}), end="")
        return 0
    width = max(len(r["name"]) for r in rows)
    for r in rows:
        valves = f", {r['valves']} valves" if r["valves"] else ", slide" if r["slide"] else ""
        pitch = f", in {r['pitched_in']}" if r["kind"] == "instrument" else ""
        print(f"{r['name']:{width}} {r['title']} ({r['length_m']:.2f} m{pitch}{valves})")
    return 0
