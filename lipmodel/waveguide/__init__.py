"""The air column in the time domain: the ladder, its fit, and the compiled loops.

How the ladder is made.
Cells are one sample long each way; long cylinders are delay lines with a first-order Thiran
allpass, which also tunes the length. Wall loss is in first-order shelves, crossed once there and
back. They sit in two stretches of cells and stand for those between (fits and fields inside are
as near to the exact bore as with a shelf in each cell); where the fit says that they cannot, as
in bores of many steps, every cell gets its own. Areas and shelf weights start from the geometry
and are fitted (Gauss-Newton on their logarithms) until the logarithm of the input impedance
follows the exact one to 8 kHz. Fitting the impedance on a fine grid rather than the phase of the
reflectance is what brought the trumpet from 3 cents to 0.1; going on from 5 to 8 kHz, where
nothing else holds the areas, took the error of the reflectance from 2 to 8 kHz from 0.24-0.36 to
0.04-0.09 (flugelhorn, tenor horn, cornet). Bores that start far off are fitted in a tube with
artificial attenuation first. Whatever the fit does, positive areas and shelves below one keep the
ladder passive.

Energy.
All sums are kept apart, so that the residual can fail: blown = sum(pm u dt); into the bore =
sum(p u dt); radiated = sum((p+^2 - p-^2) S/(rho c) dt) in the last cell; wall = what every shelf
takes (where along the tube is told by the matrices: a shelf stands for the cells around it and
takes its part of a wave whether the air moves there or not, which put 18 % of a trumpet's wall
loss into its mouthpiece in place of 11.5); stored = waves in cells and lines. residual = (into -
wall - radiated - change of stored)/blown, round-off (2e-15, and 2e-14 while valves move: a fade
between two lengths loses 2 % of what enters a trumpet in a run of short notes, 6 % in a tuba, and
is booked as a part of `wall`, `valves_j`: while it lasts a line holds (1 - m) of what its one tap
has still to read and m of what its other has). Second book: blown - into = jet + lip damping -
what the pressure in the channel gives the lips (the Bernoulli force has no conjugate flow, so it
is booked by itself and taken from the jet; so is all that moves lips that swing, on a face as
wide as the lip and as high as its joint); closes to 5e-4 of what is blown, 1.6e-3 at ff (5 %
where soft lips are blown wide open: what they hold at the end is not booked, nor the player's own
work in a tension that rises).
Where more than 30 % of what is blown is missing while the tension stands, the steps are too long
for the lips (large ones in a tight cup at 22 kHz) and the sentences say that the sound is not to
be trusted.

The mouth.
With `Horn.mouth` the lips are blown through a cavity fed from the lungs (`lipmodel.mouth`): the
jet's quadratic keeps its form, the pressure being what is stored and the impedance zc + B, for
the jet only. Where the tongue moves, the waves in the mouth are normalised by power: what is
stored stays, so the tongue does no work and no book is needed for it. lungs = blown + glottis +
change of what the mouth holds, to 3e-14, with a tongue that jumps anywhere at each sample too.
Without a mouth the compiled loop is another one and does the same to the bit.

The throat.
Behind the mouthpiece's narrowest place the flow loses K rho u|u|/(2 S^2): K = 0.25 onward
(rounded entry 0.04, cone of 3 to 6 degrees 0.2; a venturi tube loses 0.05 to 0.2, ISO 5167-4), (1
- S/S_cup)^2 back into the cup (Borda and Carnot). One quadratic a sample at the junction nearest
to the throat's end; passive whatever arrives. Steady breath meets it too: it takes 12 to 24 % of
what enters the bore in soft notes (`throat_j`, `throat_w`, a part of `wall`). It was thought to
saturate loud notes and does not: growth from 3 to 4 times the threshold is 6.8, 6.3, 6.1, 6.9 dB
a doubling at partials 2, 3, 4, 6 with it and 6.2, 5.9, 5.9, 7.0 without; even K = 2 leaves 5 to 9
dB.

Sources.
Flow U at a junction raises both leaving waves by U/(Y1 + Y2). A line is broken where the source
is; among cells it goes to the nearest junction.

Where figures come from (what: held against: measured).
- ladder: the frequency-domain bore: 1.1 cents, 0.41 dB; 50 random bores 3.1 cents, 0.51 dB
- loss of the throat: rho u^2/2 by hand on steady flow; random waves: 1 %; never gives
- moving slide: resonance of the momentary length; praat-parselmouth: 2.1, 1.7 cents; no zipper
    above -84 dB
"""
