"""[player] steadiness: how still lips and breath are held."""

from pydantic import Field

from lipmodel.files import schema
from lipmodel.files.schema import Table, number

MOST_LIP_CENTS, MOST_BREATH_PERCENT = 100, 20


class Drift(Table):
    """Slow drifts of lip setting and breath, rms; each alone, neither follows the other."""

    lip_drift_cents: number(0, MOST_LIP_CENTS, "cents") = Field(0.0, description="of the setting")
    breath_drift_percent: number(0, MOST_BREATH_PERCENT, "%") = Field(0.0, description="of it")


# professional: so that held notes are as unsteady as recorded ones (`player.steadiness`);
# student: three times that, ours
STILL = "machine"
PLAYERS = {
    STILL: Drift(),
    "professional": Drift(lip_drift_cents=15.0, breath_drift_percent=3.0),
    "student": Drift(lip_drift_cents=45.0, breath_drift_percent=9.0),
}
EXPECTED = f"{schema.one_of(PLAYERS)}, or a table with {' and '.join(Drift.keys())}"


def _steadiness(value):
    if isinstance(value, dict | Drift):
        return Drift.model_validate(value)
    if not isinstance(value, str) or value not in PLAYERS:
        raise ValueError(f"expected {EXPECTED}{schema.did_you_mean(value, PLAYERS)}")
    return value


Steadiness = schema.parsed(str | Drift, _steadiness, EXPECTED)
