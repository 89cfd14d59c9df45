"""A reader of pages: text, tags and whatever is asked for from outside."""

from html.parser import HTMLParser

OPEN = ("meta", "img", "br", "hr", "link", "input")  # elements without an end tag


class Reader(HTMLParser):
    """What a page says: text by element, attributes, and whether the tags nest."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.text, self.path = [], [], []
        self.feed(page)
        assert self.path == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in OPEN:
            self.path.append(tag)

    def handle_endtag(self, tag):
        assert self.path.pop() == tag

    def handle_data(self, data):
        self.text.append((tuple(self.path), data))

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]

    def inside(self, tag):
        return [data for path, data in self.text if tag in path and data.strip()]
