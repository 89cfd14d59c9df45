"""One short note from rest: the breath rises, and the lips come from 3 % below, as in a phrase."""

import numpy as np

from lipmodel.waveguide.state import Block, Horn, LoopOutput, State, start
from lipmodel.waveguide.time_loop import advance

ATTACK = 0.02  # s, in which the breath rises
LOOSER = 0.97  # of the setting, at the attack: from above loud lips go on to the next partial
FAR_LOOSER = 0.87  # where a note is lipped up as far as its slot goes
TIGHTER = 1.08  # of the setting of a note lipped down
SETTLING = 0.06  # s, from there to the setting
LEAVING, ARRIVING = 0.3, 0.6  # s, between which the lips go on from a setting held before


def play_note(
    horn: Horn,
    tension,
    mouth,
    seconds,
    lines=None,
    before=None,
    release=0.0,
    tail=0.0,
    comes=LOOSER,
) -> tuple[LoopOutput, State]:
    """A note of `seconds` at `tension` Hz and `mouth` Pa, and the state it ends in.

    `lines`: delays of the ladder's lines; `before`: a setting in Hz held first, from which the
    lips then move on slowly; `release`: s at the end in which the breath falls; `tail`: s of
    silence after it; `comes`: times the setting at which the lips begin.
    """
    time = np.arange(int((seconds + tail) * horn.rate)) / horn.rate
    breath = mouth * np.minimum(np.arange(len(time)) / (ATTACK * horn.rate), 1.0)
    if release:
        breath *= np.clip((seconds - time) / release, 0.0, 1.0)
    first = tension if before is None else before
    setting = np.interp(time, [0.0, SETTLING, LEAVING, ARRIVING],
                        [comes * first, first, first, tension])  # fmt: skip
    state = start(horn)
    firm_for = np.full(len(time), float(mouth))
    block = Block(breath, setting, lines_from=lines, firm_for=firm_for)
    return advance(horn, state, block), state
