"""The calibrated player beside the published facts, one line each.

    python tests/calibration.py

Prints what the model gives, what is published and where; tests assert the same figures
(`test_slots.py`).  Takes about a minute.
"""

import numpy as np

from lipmodel import instruments
from lipmodel.acoustics.resonances import resonances
from lipmodel.air import Air
from lipmodel.analysis.slots import slot_rows, sweep
from lipmodel.analysis.threshold import threshold
from lipmodel.fit import build_ladder
from lipmodel.lips import LARGE, SMALL
from lipmodel.sound import radiated, radiation_filter
from lipmodel.timeloop import Horn, play

RATE = 48_000.0
AIR = Air.at(22.0)
MEMORY = "from memory"
FLETCHER = "Fletcher and Tarnopolsky 1999, J. Acoust. Soc. Am. 105, 874-881"
BOUTIN = "Boutin, Fletcher, Smith and Wolfe 2015, J. Acoust. Soc. Am. 137, 1195-1209 (trombone)"
FREOUR = "Freour, Causse and Cossette 2010"
BOUHUYS = f"Bouhuys 1965 and others, {MEMORY}; pressures of soft playing"
SOFT = {2: "1.5-2", 3: "2-3", 4: "3-5", 6: "5-7", 8: "8-12", 12: "up to 25"}


def line(what, found, published, source):
    print(f"{what:46} {found:>22}   {published:>14}   {source}")


def thresholds(bore, lips, partials):
    peaks = [r.frequency for r in resonances(bore, AIR)]
    found = {}
    for n in partials:
        known = [
            threshold(bore, AIR, lips, s * peaks[n - 1], peaks[n - 1])
            for s in (0.86, 0.9, 0.94, 0.98)
        ]
        near = [t for t in known if t and abs(1200 * np.log2(t.frequency / peaks[n - 1])) < 90]
        if near:
            found[n] = min(near, key=lambda t: t.pressure)
    return found, peaks


def held(horn, tension, mouth, response):
    """rms at 1 m and in the mouthpiece (Pa), mean and peak flow (L/s) of a steady note."""
    n = int(1.2 * RATE)
    t = np.arange(n) / RATE
    played = play(horn, mouth * np.minimum(t / 0.02, 1), np.full(n, tension))
    heard = radiated(played.out_wave, played.back_wave, horn.ladder.admittance[-1], response)
    part = slice(-int(0.4 * RATE), None)
    flow = 1e3 * played.flow[part]
    pressure = played.mouthpiece_pressure[part]
    return heard[part].std(), pressure.std(), flow.mean(), flow.max()


def growth(horn, found, peaks, response):
    """dB a doubling of pressure, from 1.2 to 3 times the threshold and from 3 to 4 times."""
    for n in (2, 3, 4, 6):
        tension, least = found[n].tension, found[n].pressure
        level = {x: 20 * np.log10(held(horn, tension, x * least, response)[0]) for x in (1.2, 3, 4)}
        low = (level[3] - level[1.2]) / np.log2(3 / 1.2)
        high = (level[4] - level[3]) / np.log2(4 / 3)
        line(f"growth, partial {n}, 1.2 to 3 times threshold", f"{low:.1f} dB/doubling", "11-19",
             FLETCHER)  # fmt: skip
        line(f"growth, partial {n}, 3 to 4 times threshold", f"{high:.1f} dB/doubling",
             "towards 3", FLETCHER)  # fmt: skip


def flows(horn, found, response):
    for words, n, times in (("soft", 4, 1.2), ("mf", 4, 2.0), ("ff", 4, 3.3), ("ff", 2, 3.3)):
        _, _, mean, peak = held(horn, found[n].tension, times * found[n].pressure, response)
        published = "under 0.2" if words == "soft" else "0.18-0.63"
        line(f"mean flow, partial {n}, {words}", f"{mean:.2f} L/s", published, FREOUR)
        line(f"peak flow, partial {n}, {words}", f"{peak:.2f} L/s", "up to 0.95", FREOUR)


def slots(horn, peaks):
    off = []
    numbered = list(enumerate(peaks, 1))
    for kpa, top in ((6, 760.0), (8, 900.0), (12, 1050.0)):
        for way in (True, False):
            swept = sweep(horn, 120.0, top, lambda t, p=kpa: np.full(np.shape(t), 1e3 * p), way)
            rows = [r for r in slot_rows(swept, numbered) if r["partial"] <= 8]
            off += [r["cents_from_resonance"] for r in rows]
            words = "up" if way else "down"
            locks = " ".join(f"{r['partial']}:{r['lock']:.2f}" for r in rows)
            print(f"  locks at {kpa} kPa, {words:4}: {locks}")
    line("pitch above the resonance, mean", f"{np.mean(off):+.1f} cents", "+18.9", BOUTIN)
    line("pitch above the resonance, range", f"{min(off):+.0f} to {max(off):+.0f} cents",
         "both sides", BOUTIN)  # fmt: skip


def player(name, lips, bore, partials):
    print(f"\n{name}")
    found, peaks = thresholds(bore, lips, partials)
    for n, t in found.items():
        line(f"threshold, partial {n} ({peaks[n - 1]:.0f} Hz)", f"{t.pressure / 1e3:.2f} kPa",
             f"{SOFT.get(n, '-')} kPa" if name.startswith("small") else "-", BOUHUYS)  # fmt: skip
    ratio = [t.pressure / peaks[n - 1] for n, t in found.items() if n <= 8]
    line("threshold over frequency, highest/lowest", f"{max(ratio) / min(ratio):.2f}", "about 1",
         FLETCHER)  # fmt: skip
    return found, peaks


def main():
    bore = instruments.instrument("trumpet")
    found, peaks = player("small mouthpiece, trumpet", SMALL, bore, (2, 3, 4, 5, 6, 8, 12))
    horn = Horn(build_ladder(bore, AIR, RATE), SMALL, AIR.density)
    response = radiation_filter(bore, AIR, RATE, 1.0, 0.0)
    growth(horn, found, peaks, response)
    flows(horn, found, response)
    slots(horn, peaks)
    print(
        "\nNo setting met: 3 dB a doubling at saturation above the second partial; flows of\n"
        "0.18 L/s in the softest notes; equal offsets for all partials in a rising sweep."
    )
    # a larger mouthpiece on the same tubing, only to show that the large player speaks softer
    player("large mouthpiece's lips, on the same bore", LARGE, bore, (2, 3, 4, 6))


if __name__ == "__main__":
    main()
