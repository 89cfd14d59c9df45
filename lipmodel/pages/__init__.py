"""Pages to show to a class, as values: data in, one HTML string out that opens offline.

One look for all of them: large type, one column, at home on a wall and on a telephone.
"""

from html import escape

NARROW = "60rem"  # below it a table's rows become cards
STYLE = (
    """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body {
  margin: 0; background: #ffffff; color: #1c1c1c;
  font: 1.25rem/1.5 system-ui, sans-serif; overflow-wrap: anywhere;
}
main { max-width: 72rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 2.2rem; line-height: 1.2; margin: 0.5rem 0 1rem; }
h2 { font-size: 1.5rem; line-height: 1.25; margin: 2rem 0 0.5rem; color: #123f73; }
p, ul, dl { margin: 0.5rem 0; max-width: 60rem; }
ul { padding-left: 1.4rem; }
.ask { font-size: 1.6rem; line-height: 1.35; font-weight: 600; }
details { margin: 1rem 0; }
summary {
  display: inline-block; cursor: pointer; padding: 0.5rem 1rem;
  border: 2px solid #123f73; border-radius: 0.4rem; color: #123f73; font-weight: 600;
}
details p { font-size: 1.4rem; border-left: 6px solid #123f73; padding-left: 1rem; }
:focus-visible { outline: 4px solid #b35400; outline-offset: 3px; }
.care {
  border-left: 8px solid #b35400; background: #fdf3ea; padding: 0.25rem 1rem; max-width: 60rem;
}
audio { display: block; width: 100%; max-width: 60rem; }
img { display: block; width: 100%; height: auto; }
table { border-collapse: collapse; width: 100%; font-size: 1.1rem; overflow-wrap: normal; }
th, td { text-align: left; vertical-align: bottom; padding: 0.4rem 0.9rem 0.4rem 0; }
th { border-bottom: 3px solid #123f73; line-height: 1.2; }
td { border-bottom: 1px solid #c9c9c9; font-variant-numeric: tabular-nums; }
dt { font-weight: 700; margin-top: 0.5rem; }
dd { margin-left: 0; }
@media (max-width: """
    + NARROW
    + """) {
  body { font-size: 1.125rem; }
  h1 { font-size: 1.7rem; }
  .ask { font-size: 1.35rem; }
  table, tbody, tr, td { display: block; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  tr { border: 2px solid #c9c9c9; border-radius: 0.4rem; margin: 0.75rem 0; padding: 0.4rem; }
  td { display: flex; justify-content: space-between; gap: 1rem; padding: 0.2rem; border: 0; }
  td::before { content: attr(data-name); font-weight: 600; }
}
@media print { audio, summary { display: none; } }
"""
)


def page(title: str, body: str, head: str = "") -> str:
    """A whole HTML page: `title` is plain text, `body` and what is added to its `head` are HTML
    already escaped."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n{head}</head>\n"
        f"<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )
