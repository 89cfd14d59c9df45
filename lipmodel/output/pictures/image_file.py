"""A figure as the bytes of a file."""

import io

COLOURS = 128  # few flat colours and the edges between them: no difference is seen
# no date and no version of the library in the file: the same scene gives the same bytes
PLAIN = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
}


def figure_bytes(figure, kind="png", dpi=100) -> bytes:
    """`figure` as "png", "svg" or "pdf"."""
    import matplotlib

    out = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "lipmodel"}):
        figure.savefig(out, format=kind, dpi=dpi, metadata=PLAIN[kind])
    return out.getvalue()


def lighter(png: bytes) -> bytes:
    """The same picture in COLOURS colours: a third of the bytes, to carry inside a page."""
    from PIL import Image

    out = io.BytesIO()
    image = Image.open(io.BytesIO(png)).convert("RGB")
    image.quantize(COLOURS, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(out, "PNG")
    return out.getvalue()
