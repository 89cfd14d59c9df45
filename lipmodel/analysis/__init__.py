"""Package docstring.

Where figures come from (what: held against: measured).
- playing frequency: 192 kHz; convolution; `solve_ivp` on a modal bore; praat-parselmouth: 0.35,
    0.3, under 5, under 2 cents
- where notes begin: a published one-mass lip on a cylinder; the time loop: 0.1 %, 0.02 Hz; decays
    at 0.95, grows at 1.05 times
"""
