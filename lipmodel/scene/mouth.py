"""[mouth]: the air upstream of the lips; absent, an ideal source of pressure blows them."""

from pydantic import Field

from lipmodel.files.schema import Problem, Table, choice, number
from lipmodel.scene.player import breakpoints

GIVEN = "resonance_hz or vowel"


class Mouth(Table):
    """The player's mouth: one cavity that resonates, led by the tongue.

    What is not given is `peak_pa_s_m3` and `quality` of `lipmodel.mouth`; a vowel has its own
    volume.
    """

    resonance_hz: breakpoints(100, 2000, "Hz") | None = Field(
        None, description="where the mouth resonates; breakpoints: the tongue moves"
    )
    vowel: choice("ah", "ee") | None = Field(
        None, description="resonance and volume of a tract of two tubes, lips closed"
    )
    volume_ml: number(1, 200, "ml") | None = Field(
        None, description="of the cavity behind the lips, in place of peak_pa_s_m3"
    )
    quality: number(0.5, 50) | None = Field(None, description="of the resonance; default: 6")
    peak_pa_s_m3: number(1e5, 1e9, "Pa s/m3") | None = Field(
        None, description="about the highest impedance seen from the lips; default: 15e6"
    )
    glottis_pa_s_m3: number(1e3, 1e8, "Pa s/m3") | None = Field(
        None, description="resistance of glottis and channel, in place of quality"
    )

    @classmethod
    def rules(cls, data, place):
        pairs = (
            ("vowel", "resonance_hz"), ("vowel", "volume_ml"), ("vowel", "peak_pa_s_m3"),
            ("peak_pa_s_m3", "volume_ml"), ("glottis_pa_s_m3", "quality"),
        )  # fmt: skip
        found = [
            Problem((extra,), data[extra], f"expected either {one} or {extra}, not both")
            for one, extra in pairs
            if one in data and extra in data
        ]
        if "vowel" not in data and "resonance_hz" not in data:
            found.append(Problem((), None, f"expected {GIVEN}", "plain"))
        return found
