"""From the open end to a level: listener, loudness, alignment, steepening.

Loud waves.
The loop is linear; what leaves is steepened afterwards. The loop notes the wave towards the bell
at the station, where the mouthpiece ends. It is sent along the bore by the exact simple wave
(Hopf and Lax's potential), amplitude falling as the bore widens, losses before, between and after
two steps, at 144 kHz or more; the difference that makes goes through the exact transmission to
the open end and is added to the linear sound. *Strength* is how far the bore takes the steepest
front towards a shock (1: it breaks). At pp on a trumpet the two sounds differ by 0.02 dB in the
first harmonic, 0.5 in the second and more in weak high ones: even there the wave steepens a
little.

Where figures come from (what: held against: measured).
- steepening: Fubini; Blackstock (from memory); Hirschberg and others 1996: 0.0008 dB to 0.95 of a
    shock, 0.0006 dB past it; 2.7703 m for 2.770
- loudness: EBU Tech 3341 cases 1-5: 0.06 LU
- room: reverberation times by our own Schroeder integral (ISO 3382-1, T30, 125 to 4000 Hz): 6 %;
    images: delays and levels of hand-drawn ones, 0.9 %; late energy: diffuse field, 0.8 dB in low
    narrow octaves of small rooms, 0.4 elsewhere; all that walls add: Sabine, -0.1 +- 0.8 dB in the
    mean over rooms. Making a room takes 0.3 to 1.2 s once, then 5 ms a second of sound
"""
