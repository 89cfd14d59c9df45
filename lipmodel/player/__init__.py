"""A scene becomes physics and is played. The one place where scene and physics meet.

Players.
A held note rests above its resonance, low notes by 25 to 40 cents, high ones by 5; `resting_cents`
in a bore file is the mean of the open notes at mf (10 on the trumpet, 16 on trombone and horn, 22
on the tuba).  A chart's cents are those of the note as played.

Dynamics.
`dynamic` is a law of breath (`Lips.breath`): pp is 1.1 times the pressure at which the note begins
(`lips.threshold_per_hz` times its frequency), ff `loudest` times at `middle`, more on low notes and
less on high ones, the others lie between in octaves of breath.  Ours, inside the published ranges
from softest to loudest (Bouhuys 1965 and others, from memory). A note that has not come up in half
a second is blown harder in steps up to 1.6 times its marking. What that gives on the trumpet,
written notes (`python tests/reference/calibration.py`):

- C4; marking pp, mf, ff; mouth kPa 2.0, 3.9, 7.6; mouthpiece rms kPa 0.5, 4.7, 8.6; flow mean,
    peak l/s 0.04, 0.24, 0.35; 0.05, 0.33, 0.51; sound power dB 78, 101, 106; centroid Hz at 1 m
    470, 1240, 1400
- G4; marking pp, mf, ff; mouth kPa 3.1, 5.4, 9.4; mouthpiece rms kPa 1.5, 5.7, 9.9; flow mean,
    peak l/s 0.07, 0.26, 0.37; 0.09, 0.35, 0.54; sound power dB 90, 105, 110; centroid Hz at 1 m
    880, 1580, 1950
- C5; marking pp, mf, ff; mouth kPa 4.1, 6.7, 11.1; mouthpiece rms kPa 1.9, 5.7, 9.6; flow mean,
    peak l/s 0.09, 0.28, 0.40; 0.11, 0.39, 0.57; sound power dB 95, 107, 112; centroid Hz at 1 m
    1050, 1620, 2010
- G5; marking pp, mf, ff; mouth kPa 6.2, 9.2, 13.8; mouthpiece rms kPa 2.6, 5.8, 9.5; flow mean,
    peak l/s 0.13, 0.31, 0.49; 0.17, 0.45, 0.72; sound power dB 101, 109, 114; centroid Hz at 1 m
    1370, 1840, 2460
- C6; marking pp, mf, ff; mouth kPa 8.2, 11.5, 16.2; mouthpiece rms kPa 1.9, 4.7, 8.3; flow mean,
    peak l/s 0.11, 0.29, 0.55; 0.16, 0.44, 0.85; sound power dB 100, 108, 113; centroid Hz at 1 m
    1340, 1770, 2290
- published; marking softest to loudest; mouth kPa 1.5-2 (Bb3) to 25; mouthpiece rms kPa up to
    5-10; flow mean, peak l/s 0.18-0.63; 0.95; sound power dB 78 to 104-111, 0.6 W at most;
    centroid Hz at 1 m rises with level

Published: pressures Bouhuys 1965; flows Freour, Causse and Cossette 2010; power Meyer (ranges)
and Sivian, Dunn and White 1931 (0.3 W peak); mouthpiece pressure up to about 10 kPa (Hirschberg
and others 1996); all from memory. The power of the highest ff notes lies 2 dB above what is
published.

Where figures come from (what: held against: measured).
- the player: `tests/reference/calibration.py`: threshold 7.3-8.5 Pa/Hz where the note is in tune,
    pitch +8 cents over the resonance, 11-20 dB a doubling, 0.04-0.55 L/s
- instruments: harmonic series; A. Benade's proportions; an article's valve cents; B. Holmes's
    lecture notes: resonances 2-8 (2-10) within 18 cents; 10 points; 8 cents; +20 to +45 Hz,
    falling
- slap, noise: echo of the ladder: 0.94 cent; 3.8 cents in 20 s (pressure alone 10.5)
- vibrato: praat-parselmouth: of 20 cents asked for 19.3 (lips), 18.6 (slide) at 5.5 Hz
"""
