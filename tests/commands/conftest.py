"""So that no command has to say that it compiles."""

import pytest

from lipmodel.player.warm_up import warm_up


@pytest.fixture(scope="module", autouse=True)
def compiled():
    """So that no command has to say that it compiles."""
    warm_up()
