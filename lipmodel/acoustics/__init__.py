"""Everything in the frequency domain: losses, radiation, impedance, resonances, reflection.

Time factor e^{+jwt}; pressure p in Pa, volume flow u in m3/s, positive towards the open end.

Where figures come from (what: held against: measured).
- air: IEC 61094-2:2009 Table F.1; CoolProp 8.0: all printed digits; 0.008 %
- wall losses: IEC 61094-2:2009 Tables B.1, B.2: 0.0015 GPa s/m3
- lossless bores, plane fronts: closed forms of cylinder, cone, exponential and finite Bessel
    horn: 0.01 cent
- open end: Levine and Schwinger 1948: 1.9 % to ka 2.5
- bells, cups: own axisymmetric finite elements (`tests/reference/`): 0.92 mm, 0.016; 2.0 cents
- bell as mirror: finite elements; conservation; exponential horn: 0.016 in energy; 4e-12; 1.5e-5
- field along the tube: cosine, spherical wave; the ladder's cells: 1e-9; 0.7 % of the mouthpiece
    pressure, 1.9 % of a harmonic to 1.2 kHz
- open pipe: Levine and Schwinger 1948: 0.13 cent
- flame: Rayleigh 1878, the n-tau form of Crocco and Cheng 1956 (from memory): 60 of 60 signs,
    growth 5 %
- brassiness: Myers, Pyle, Gilbert and Campbell 2010, eq. 1: cylinder 1.000, cone 0.2558; trombone
    0.620, trumpet 0.551, flugelhorn 0.448
"""
