"""A scene becomes physics and is played. The one place where scene and physics meet.

Players.
A held note rests `resting_cents` above its resonance (mean over slots, slow sweeps up and down):
22 on the trumpet, 24 on the trombone, 8 on the tuba, 0 on the horn. A chart's cents are resonance
plus rest. The wider the bore, the smaller the rest; why is not settled.

Dynamics.
`dynamic` is a mouth pressure over the one at which the player's note begins
(`lips.threshold_per_hz` times its frequency): pp 1.2, p 1.4, mp 1.7, mf 2.0, f 2.6, ff 3.3. Ours,
inside the published ranges from softest to loudest (Bouhuys 1965 and others, from memory). A note
that has not come up in half a second is blown harder in steps up to 1.6 times its marking. What
that gives on the trumpet, written notes (`python tests/reference/calibration.py`):

- C4; marking pp, mf, ff; mouth kPa 2.5, 3.7, 6.2; mouthpiece rms kPa 0.6, 2.8, 6.1; flow mean,
    peak l/s 0.09, 0.18, 0.33; 0.10, 0.24, 0.45; sound power dB 77, 93, 102; centroid Hz at 1 m
    390, 830, 1460
- G4; marking pp, mf, ff; mouth kPa 3.4, 5.6, 9.2; mouthpiece rms kPa 0.7, 3.9, 8.3; flow mean,
    peak l/s 0.09, 0.23, 0.40; 0.11, 0.31, 0.60; sound power dB 82, 100, 108; centroid Hz at 1 m
    560, 1220, 2510
- C5; marking pp, mf, ff; mouth kPa 4.5, 7.5, 12.3; mouthpiece rms kPa 1.1, 4.9, 10.0; flow mean,
    peak l/s 0.11, 0.26, 0.47; 0.13, 0.39, 0.79; sound power dB 88, 104, 112; centroid Hz at 1 m
    820, 1640, 4190
- G5; marking pp, mf, ff; mouth kPa 6.7, 11.2, 18.4; mouthpiece rms kPa 1.5, 5.8, 11.6; flow mean,
    peak l/s 0.15, 0.34, 0.61; 0.17, 0.52, 1.07; sound power dB 95, 108, 116; centroid Hz at 1 m
    1100, 2170, 6870
- C6; marking pp, mf, ff; mouth kPa 9.0, 14.9, 24.6; mouthpiece rms kPa 1.7, 6.8, 13.6; flow mean,
    peak l/s 0.17, 0.39, 0.71; 0.22, 0.67, 1.39; sound power dB 97, 110, 117; centroid Hz at 1 m
    1340, 2860, 9170
- published; marking softest to loudest; mouth kPa 1.5-2 (Bb3) to 25; mouthpiece rms kPa up to
    5-10; flow mean, peak l/s 0.18-0.63; 0.95; sound power dB 78 to 104-111, 0.6 W at most;
    centroid Hz at 1 m rises with level

Published: pressures Bouhuys 1965; flows Freour, Causse and Cossette 2010; power Meyer (ranges)
and Sivian, Dunn and White 1931 (0.3 W peak); mouthpiece pressure up to about 10 kPa (Hirschberg
and others 1996); all from memory. Peak flow above G5 and the centroid of the highest ff notes lie
above what is published.

Where figures come from (what: held against: measured).
- the player: `tests/reference/calibration.py`: threshold 7.3-9.1 Pa/Hz, pitch +26 cents over the
    resonance, 13-18 dB a doubling, 0.12-0.45 L/s
- instruments: harmonic series; A. Benade's proportions; an article's valve cents; B. Holmes's
    lecture notes: resonances 2-8 (2-10) within 12 cents; 10 points; 8 cents; +20 to +45 Hz,
    falling
- slap, noise: echo of the ladder: 0.94 cent; 3.8 cents in 20 s (pressure alone 10.5)
- vibrato: praat-parselmouth: of 20 cents asked for 19.3 (lips), 18.6 (slide) at 5.5 Hz
"""
