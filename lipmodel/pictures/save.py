"""A figure as the bytes of a file."""

import io

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
