"""Pictures as values: data in, a matplotlib `Figure` out; nothing is saved here.

This file stays free of matplotlib, so that pages can share its words.
"""

import logging

# without a home it is only slower: no reason for two lines of advice
logging.getLogger("matplotlib").setLevel(logging.ERROR)

MINUS = "\N{MINUS SIGN}"
AS_WRITTEN = ("", "as written")  # a variant of this name is the scene itself


def signed_cents(value: float) -> str:
    """Cents with their sign and the word for it: "+12 sharp", "−3 flat", "0 in tune"."""
    rounded = round(value)
    if rounded == 0:
        return "0 in tune"
    return f"+{rounded} sharp" if rounded > 0 else f"{MINUS}{-rounded} flat"


def heading(report: dict) -> str:
    """The scene's title, and the variant's name where it is not the scene as written."""
    title = report.get("title") or report.get("scene") or "What was played"
    variant = report.get("variant") or ""
    return title if variant in AS_WRITTEN else f"{title}: {variant}"


def name_first(report: dict) -> str:
    """Which of a note's two names this scene shows first, "written" or "sounding"."""
    return report.get("inputs", {}).get("notes", {}).get("read_as", "written")
