"""One module a question: values in, values out.

Where figures come from (what: held against: measured).
- echoes: 2x/c with viscous group delay; group delay of R: 0.04 ms; 0.002 ms
- energy: every book apart; the impedances; local losses by the matrices: 5e-4; 1.4-4.7 % of the
    radiated share; walls 1 %, their shares by place 0.003
"""
