"""Pages to show to a class, as values: data in, one HTML string out that opens offline.

One look for all of them: large type, one column, at home on a wall and on a telephone.
"""

import base64
from html import escape
from pathlib import Path

from lipmodel.output.pictures.colours import css_variables

STYLE = css_variables() + (Path(__file__).parent / "page.css").read_text("utf-8")


def page(title: str, body: str, head: str = "") -> str:
    """A whole HTML page: `title` is plain text, `body` and what is added to its `head` are HTML
    already escaped."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n{head}</head>\n"
        f"<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def data_url(content: bytes, mime: str) -> str:
    return f"data:{mime};base64,{base64.b64encode(content).decode('ascii')}"
