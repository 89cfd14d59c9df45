"""The stage of a section: the sound with an empty axis, the question, the answer; and on paper."""

from html import escape

from lipmodel.output.pages.care import marks
from lipmodel.output.pages.html import data_url
from lipmodel.output.pages.staff import staff

LETTERS = "ABCD"
MOST_HANDS = 999
STYLES = 4  # of lines, for sounds on one axis
BLANK = {
    "pitch": "Empty axis: pitch in Hz against time in s",
    "level": "Empty axis: loudness in dB against time in s",
}


def stage(number: int, section: dict, loud: list[str]) -> str:
    """Title, sounds, question and answer of section `number`, counted from 1; `loud`: attributes
    of each take that say how far it is turned down."""
    title = f"{number}. <bdi>{escape(section['title'])}</bdi>"
    parts = [f'<div class="slide stage" data-stage="{number - 1}">']
    parts.append(f'<div class="head"><h2 id="title{number}">{title}</h2>{_marks(section)}</div>')
    if section["takes"]:
        parts.append(_hear(section, loud))
    parts += [_guess(section), _answer(section), _paper(section), "</div>"]
    return "\n".join(parts)


def _marks(section) -> str:
    words = "; ".join(marks([take["report"] for take in section["takes"]]))
    return f'<p class="mark"><a href="#care">{escape(words)}</a></p>' if words else ""


def _hear(section, loud) -> str:
    takes = section["takes"]
    name = escape(section["title"])
    kind = BLANK[takes[0]["curves"]["kind"]]
    length = max(take["report"]["length_s"] for take in takes)
    sounds = "\n".join(
        f'<audio controls preload="none" {one} aria-label="{name}: {escape(take["name"])}" '
        f'src="{data_url(take["sound"], "audio/mpeg")}"></audio>'
        for take, one in zip(takes, loud, strict=True)
    )
    return (
        '<div class="hear">\n'
        f'<figure><div class="chart fill" role="img" aria-label="{kind}"></div></figure>\n'
        '<div class="controls">'
        f'<button type="button" class="play" aria-label="Play {name}">Play</button>'
        f'<label class="at">Position, s <input type="range" min="0" max="{length:.2f}" '
        f'step="0.01" value="0" aria-label="Position in {name}, seconds"></label>'
        f"{_which(takes)}</div>\n{sounds}\n</div>"
    )


def _which(takes) -> str:
    """One button a sound where there are several, each with the line that it has on the axis."""
    if len(takes) == 1:
        return ""
    buttons = "".join(
        f'<button type="button" class="which" aria-pressed="{"false" if i else "true"}">'
        f'<svg class="sample sample{i % STYLES}" viewBox="0 0 60 8" width="60" height="8" '
        f'aria-hidden="true"><path d="M2 4H58"/></svg> {i + 1} '
        f"<bdi>{escape(take['name'][:1].upper() + take['name'][1:])}</bdi></button>"
        for i, take in enumerate(takes)
    )
    return f'<span class="sounds" role="group" aria-label="Which sound">{buttons}</span>'


def _guess(section) -> str:
    if not section["ask"]:
        return ""
    rows = "\n".join(
        f'<li><span class="letter">{letter}</span> <span class="choice" dir="auto">'
        f'{escape(text)}</span><span class="votes"><span class="vote"></span></span>'
        f'<input type="number" class="hands" min="0" max="{MOST_HANDS}" inputmode="numeric" '
        f'aria-label="Hands for {letter}: {escape(text)}"></li>'
        for letter, text in zip(LETTERS, section["choices"], strict=False)
    )
    listed = f'<ol class="choices">\n{rows}\n</ol>' if rows else ""
    return (
        f'<div class="guess"><p class="ask" dir="auto">{escape(section["ask"])}</p>{listed}</div>'
    )


def right_answer(section) -> str:
    """The letter and words of the right answer, plain text; nothing where none is named."""
    if not section["right"]:
        return ""
    at = section["right"] - 1
    return f"{LETTERS[at]}: {section['choices'][at]}"


def in_words(section) -> str:
    """The right answer for paper, plain text: its letter, or its words where nothing else is
    said."""
    letter = f"{LETTERS[section['right'] - 1]}." if section["right"] else ""
    said = [t for t in (section["answer"], section["reason"]) if t]
    return " ".join(filter(None, [letter, *said])) if said else right_answer(section)


def _answer(section) -> str:
    """Closed until somebody opens it; with it goes the curve, which is not there before."""
    if not (section["takes"] or section["answer"]):
        return ""
    right, words = right_answer(section), "Show the answer" if section["answer"] else "Show"
    parts = [f'<details class="answer"><summary>{words}</summary>']
    if right:
        parts.append(
            f'<p class="right" dir="auto"><b>{escape(right)}</b> <span class="counted"></span></p>'
        )
    for name in ("answer", "reason"):
        if section[name]:
            parts.append(f'<p class="said {name}-words" dir="auto">{escape(section[name])}</p>')
    if section["listen_for"]:
        words = escape(section["listen_for"])
        parts.append(f'<p class="listen-for" dir="auto"><b>Listen for</b> {words}</p>')
    if section["takes"] and section["takes"][0]["curves"]["kind"] == "pitch":
        parts.append(
            '<p class="caption">Thick: what sounds. Dotted: the lip setting. Thin lines: the '
            "resonances, named as notes.</p>"
        )
    return "".join(parts) + "</details>"


def _paper(section) -> str:
    """What only paper needs: lines for a guess, the answer in the handout, notes on a staff."""
    parts = [
        '<div class="lines" aria-hidden="true"><p>My guess: draw it on the axis, and say why</p>'
        "<hr><hr></div>"
    ]
    if told := in_words(section):
        parts.append(f'<p class="on-paper" dir="auto"><b>Answer</b> {escape(told)}</p>')
    if section["staff"]:
        held = any(words for _, words in section["staff"])
        title = "Notes, usual fingering below" if held else "Notes that the tube holds"
        title = f"{section['staff_of']}: {title.lower()}" if section["staff_of"] else title
        parts.append(
            f'<figure class="on-staff"><figcaption>{title}</figcaption>'
            f"{staff(section['staff'], title)}</figure>"
        )
    return "\n".join(parts)
