"""Headings and which name comes first."""

AS_WRITTEN = ("", "as written")  # a variant of this name is the scene itself


def heading(report: dict) -> str:
    """The scene's title, and the variant's name where it is not the scene as written."""
    title = report.get("title") or report.get("scene") or "What was played"
    variant = report.get("variant") or ""
    return title if variant in AS_WRITTEN else f"{title}: {variant}"


def name_first(report: dict) -> str:
    """Which of a note's two names this scene shows first, "written" or "sounding"."""
    return report.get("inputs", {}).get("notes", {}).get("read_as", "written")
