"""A lesson's page from parts that nobody had to play."""

from support import sample_report as sample

from lipmodel.output.pages.lesson.page import lesson_page


def take(**changes):
    report = sample.report() | {"resonances": sample.resonances()} | changes
    return {
        "report": report, "sound": b"sound", "picture": b"picture", "more": {"energy": b"png"},
        "name": "as written", "waves": [],
        "curves": {"kind": "pitch", "length_s": 1.0, "time_s": [0.0, 0.5],
                   "frequency_hz": [None, 440.0], "setting_hz": [400.0, 410.0]},
    }  # fmt: skip


def section(**changes):
    made = {"title": "A note", "ask": "Will it?", "answer": "It will.", "listen_for": "It waits."}
    made |= {"choices": ("Yes", "No"), "right": 1, "reason": "The air holds it."}
    made |= {"staff": [("C5", "0")], "staff_of": "", "takes": [take()], "map": None, "failed": []}
    return made | changes


def made(*sections, title="Why notes snap", intro="Listen."):
    return lesson_page({"title": title, "intro": intro, "sections": list(sections)})
