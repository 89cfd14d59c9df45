"""The lip settings worth trying on a bore: what a map and a sweep cover unless a scene says."""

LOW, HIGH = 0.6, 1.15  # of the second and of the last resonance that counts
HIGHEST = 1000.0  # Hz, of that resonance
NARROWEST = 4.0  # two octaves: a bore of one resonance is blown far below it
BARE_RANGE = (100.0, 1000.0)  # Hz, of a bore without resonances
SETTING_RANGE = (20.0, 2000.0)  # Hz, as in the scene


def playable_range(resonances) -> tuple[float, float]:
    """Lowest and highest lip setting in Hz to try on a bore of these resonances (Hz, rising)."""
    used = [f for f in resonances if f < HIGHEST] or list(resonances[:1])
    if not used:
        return BARE_RANGE
    high = min(HIGH * used[-1], SETTING_RANGE[1])
    low = min(LOW * used[min(1, len(used) - 1)], high / NARROWEST)
    return max(low, SETTING_RANGE[0]), high
