"""Horn, LadderState and State, Block, LoopOutput; rest and stored energy."""

import copy
from dataclasses import dataclass

import numpy as np

from lipmodel.lips import Lips
from lipmodel.mouth import Mouth
from lipmodel.waveguide.arrays import END_ORDER
from lipmodel.waveguide.filters import thiran
from lipmodel.waveguide.ladder import Ladder, padded_size

SMALLEST_BUFFER = 64
WAVE_ROOM = 4096  # samples between two moves of the waves to the start of their arrays


@dataclass(frozen=True)
class Horn:
    """What a run needs: the ladder, the lips and the air they blow."""

    ladder: Ladder
    lips: Lips
    density: float  #: kg/m3 at the lips
    throat_loss: bool = True  #: the jet behind the mouthpiece's throat loses its head
    mouth: Mouth | None = None  #: the air upstream of the lips; None: an ideal source of pressure

    @property
    def rate(self) -> float:
        return self.ladder.rate


@dataclass(frozen=True)
class Slide:
    """A slide that moves within a run: which line it lengthens, and the most samples one way
    that it adds to it in this run."""

    line: int
    longest: float


@dataclass(kw_only=True)
class LadderState:
    """Everything that changes in a ladder: waves, memories of its filters, its lines.

    A run whose slide moves reads its line by interpolation from the first sample to the last,
    standing or moving: there is then no moment at which the way of reading changes.
    """

    right: np.ndarray
    left: np.ndarray
    memory: np.ndarray
    end_memory: np.ndarray
    buffers: np.ndarray
    place: np.ndarray
    line_memory: np.ndarray
    line_old: np.ndarray
    drain: np.ndarray  #: Pa2 samples of the last booked block: junctions, padded, then lines
    slide: Slide | None = None
    added: float = 0.0  #: samples that the slide added last
    taps: tuple | None = None  #: delays of the lines' two taps in the last block


@dataclass(kw_only=True)
class State(LadderState):
    """Everything that changes in a run: the ladder's state, the lips and the energy books; `copy`
    gives a continuation from the same moment."""

    lip: np.ndarray
    books: np.ndarray
    tract: np.ndarray  #: waves that the air in the mouth stores, root(W): cavity and channel
    resonance: float | None = None  #: Hz, of the mouth when last played
    time: float = 0.0

    def copy(self) -> "State":
        return copy.deepcopy(self)


@dataclass(frozen=True)
class Block:
    """Controls of some samples, each array of shape (n,): mouth pressure in Pa (the lungs' where
    the horn has a mouth), tension in Hz,
    and how far the valves have gone from `lines_from` to `lines_to` (delays in samples): `mix`,
    0 to 1, in equal steps.

    `added`: samples that `slide` adds to its line, on top of those delays.  A state whose slide
    has moved holds it where it is in a block that says nothing of it.  So it is with
    `resonance`, the mouth's in Hz.  `firm_for`: breath that the lips are set for, Pa, where that
    is not what is blown: muscles do not follow an attack or the tongue.
    """

    mouth: np.ndarray
    tension: np.ndarray
    mix: np.ndarray | None = None
    lines_from: np.ndarray | None = None
    lines_to: np.ndarray | None = None
    travel: int = 0  #: samples of a whole move from one to the other
    slide: Slide | None = None
    added: np.ndarray | None = None
    resonance: np.ndarray | None = None
    firm_for: np.ndarray | None = None


@dataclass(frozen=True)
class LoopOutput:
    """What the time loop gives, arrays of shape (n,), SI."""

    mouthpiece_pressure: np.ndarray
    flow: np.ndarray
    lip_opening: np.ndarray
    out_wave: np.ndarray  #: Pa, towards the open end in the last cell
    back_wave: np.ndarray  #: Pa, coming back from it
    entering_wave: np.ndarray  #: Pa, towards the open end where the mouthpiece ends
    mouth_pressure: np.ndarray | None = None  #: Pa, where the horn has a mouth


def _at_rest(constants):
    """Place (x, y) in m where the spring and the contact of unblown lips balance, at any
    tension: y - rest = contact (gap - y)."""
    x, rest, contact, eps = constants[3], constants[4], constants[8], constants[9]
    y = rest
    for _ in range(60):  # Newton; the slope is between 1 and 1 + contact
        root = np.hypot(y, eps)
        miss = y - rest - contact * 0.5 * (root - y)
        y -= miss / (1 + contact * 0.5 * (1 - y / root))
    return x, y


def still(ladder: Ladder) -> LadderState:
    """No wave anywhere."""
    n, m = len(ladder.admittance), len(ladder.line_cell)
    size = max(SMALLEST_BUFFER, 1 << int(np.ceil(np.log2(float(ladder.longest_delay) + 4))))
    padded = padded_size(n - 1)
    room = max(padded, WAVE_ROOM)
    return LadderState(
        right=np.zeros(padded + room + 1),
        left=np.zeros(padded + room + 1),
        memory=np.zeros(padded),
        end_memory=np.zeros(END_ORDER),
        buffers=np.zeros((m, 2, size)),
        place=np.array([room, 0, 0], np.int64),
        line_memory=np.zeros((m, 2, 5)),
        line_old=np.zeros((m, 2, 2, 2)),
        drain=np.zeros(padded + m),
    )


def start(horn: Horn) -> State:
    """Lips at rest, air still."""
    lip = np.zeros(8)
    lip[0], lip[1] = _at_rest(horn.lips.constants())
    return State(**vars(still(horn.ladder)), lip=lip, books=np.zeros(12), tract=np.zeros(2))


def stored_energy(ladder: Ladder, state: LadderState, lines=None) -> float:
    """Energy of the waves in the bore in J (the lips' own and the filters' left out).

    `lines`: delays of the lines in samples where valves are down, shape (m,), without the slide.
    """
    y = ladder.admittance
    r, left, _ = (int(i) for i in state.place)
    waves = state.right[r : r + len(y)] ** 2 + state.left[left : left + len(y)] ** 2
    delays = ladder.delay[ladder.line_cell] if lines is None else lines
    return float(np.sum(y * waves) / ladder.rate) + lines_energy(ladder, state, delays)


def mouth_energy(horn: Horn, state: State) -> float:
    """Energy in J that the air in the mouth holds."""
    return float(np.sum(state.tract**2) / (4 * horn.rate))


def lines_energy(ladder: Ladder, state: LadderState, delays, tap: int = 0) -> float:
    """Energy in J of what lines of these delays in samples, shape (m,), have not yet given out:
    what one of their two taps still has to read."""
    y, at, total = ladder.admittance, int(state.place[2]), 0.0
    size = state.buffers.shape[2]
    for m, cell in enumerate(ladder.line_cell):
        if state.slide is not None and m == state.slide.line:
            total += y[cell] * _waiting(state, m, delays[m] + state.added - 1)
            continue
        whole, a = thiran(float(delays[m]))
        inside = (at - np.arange(int(whole) - 1)) % size
        total += y[cell] * np.sum(state.buffers[m][:, inside] ** 2)
        old = state.line_old[m, :, tap]
        allpass = (old[:, 0] - a * old[:, 1]) ** 2 / (1 - a * a)
        total += y[cell] * np.sum(allpass)
    return float(total / ladder.rate)


def _waiting(state, m, samples):
    """Sum of the squares of what a moving line has not yet given out: the last `samples`
    written both ways, the oldest of them in part."""
    whole = int(samples)
    ages = np.arange(whole + 1)
    squares = state.buffers[m][:, (int(state.place[2]) - ages) % state.buffers.shape[2]] ** 2
    share = np.append(np.ones(whole), samples - whole)
    return float(np.sum(squares * share))


def named_books(books) -> dict[str, float]:
    """The energy books of the time loop by name, J; `books` as in `State.books`."""
    from lipmodel.waveguide.kernels import time_loop as kernel

    return dict(zip(kernel.BOOKS, map(float, books), strict=True))
