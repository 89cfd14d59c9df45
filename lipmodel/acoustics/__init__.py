"""Everything in the frequency domain: losses, radiation, impedance, resonances, reflection.

Time factor e^{+jwt}; pressure p in Pa, volume flow u in m3/s, positive towards the open end.
"""
