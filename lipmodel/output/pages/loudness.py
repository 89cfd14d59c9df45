"""The sounds of a page, equally loud or as loud as they are: how far each is turned down."""

from dataclasses import dataclass

LEAST = 0.5  # dB: sounds that differ by less are alike
CHOICES = (("equal", "equally loud"), ("real", "as loud as they are"))


@dataclass(frozen=True)
class Turned:
    """dB by which each sound of a page is turned down for either choice, and by how many the
    softest was softer than the loudest when they were played."""

    equal: tuple[float, ...]
    real: tuple[float, ...]
    apart: float

    def attributes(self, number: int) -> str:
        """The attributes of the element that holds sound `number`, for the page's script."""
        return f'data-equal="{self.equal[number]:g}" data-real="{self.real[number]:g}"'


def turned_down(lufs, gains) -> Turned:
    """Of the loudness of sound files (LUFS, None for silence) and their gains (dB over what was
    played).

    >>> turned_down([-16.0, -16.0], [0.0, 12.0])
    Turned(equal=(0.0, 0.0), real=(0.0, 12.0), apart=12.0)
    """
    heard = [value for value in lufs if value is not None]
    played = [u - g for u, g in zip(lufs, gains, strict=True) if u is not None]
    return Turned(
        tuple(0.0 if u is None else round(u - min(heard), 2) for u in lufs),
        tuple(round(g - min(gains), 2) for g in gains),
        round(max(played) - min(played), 2) if played else 0.0,
    )


def choice(turned: Turned) -> str:
    """The choice as HTML; nothing where all are alike."""
    if turned.apart < LEAST:
        return ""
    inside = "".join(
        f'<label><input type="radio" name="loudness" value="{value}"'
        f"{' checked' if value == 'equal' else ''}> {label}</label>"
        for value, label in CHOICES
    )
    return f'<span class="loudness" role="radiogroup" aria-label="Loudness">{inside}</span>'


def apart(turned: Turned) -> str:
    """What the second choice would do, a paragraph; nothing where all are alike."""
    if turned.apart < LEAST:
        return ""
    return (
        f"<p>As loud as they are, the softest sound is {turned.apart:.0f} dB softer than the "
        "loudest.</p>"
    )
