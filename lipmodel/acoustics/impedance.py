"""Input impedance and reflectance of a bore, by conical elements.

The element of a lossless cone is exact; with losses its wave number and characteristic
impedance are those of a cylinder of the piece's mean radius (common practice for short pieces;
see Ernoult and Kergomard, Acta Acustica 4(2), 7, 2020).  A sudden step is a change of area; the
inertance of the step itself is left out.
"""

import numpy as np

from lipmodel.acoustics.arguments import of_frequency
from lipmodel.acoustics.losses import propagation
from lipmodel.acoustics.radiation import end_load
from lipmodel.bore import wavefronts

SHORT = 0.2  # of |gamma x length|, below which series do
FEW = 8  # frequencies, up to which all pieces are taken at once
TABLE = np.arange(20.0, 2000.0, 0.5)  # Hz, of every impedance.csv
LONGEST_PIECE = 20e-3  # m, of a sloping lossy piece


def _elements(bore, wall_loss, wavefront):
    """The pieces, and the share of the tube at which each has its middle."""
    pieces = wavefronts.pieces(bore, wavefront, LONGEST_PIECE if wall_loss else None)
    return pieces, (pieces.x + pieces.axial / 2) / bore.length


def cone_matrix(length, r_in, r_out, gamma, z_area):
    """(A, B, C, D) of a conical piece: p1 = A p2 + B u2, u1 = C p2 + D u2.

    `gamma` in 1/m and `z_area` = Zc S in Pa s/m, shape (n,).  Textbook form, e.g. Fletcher and
    Rossing, The Physics of Musical Instruments, chapter 8 (from memory; checked by its
    determinant and by exact cones in the tests).
    """
    k = gamma / 1j
    taper = (r_out - r_in) / length
    near, far = taper / (r_in * k), taper / (r_out * k)  # 1/(k x1), 1/(k x2) from the apex
    sine, cosine = np.sin(k * length), np.cos(k * length)
    both = np.pi * r_in * r_out
    a = r_out / r_in * cosine - near * sine
    b = 1j * z_area / both * sine
    c = 1j * both / z_area * ((1 + near * far) * sine - (near - far) * cosine)
    d = r_in / r_out * cosine + far * sine
    return a, b, c, d


def _tube_matrix(length, gamma, z):
    """The same for a cylinder of characteristic impedance `z`."""
    x = gamma * length
    if np.abs(x).max() < SHORT:
        # sinh and cosh to 3e-14, faster than the functions: hundreds of pieces add up
        x2 = x * x
        sine = x * (1 + x2 / 6 * (1 + x2 / 20 * (1 + x2 / 42 * (1 + x2 / 72))))
        cosine = 1 + x2 / 2 * (1 + x2 / 12 * (1 + x2 / 30 * (1 + x2 / 56)))
    else:
        sine, cosine = np.sinh(x), np.cosh(x)
    return cosine, z * sine, sine / z, cosine


def along(bore, air, omega, wall_loss=True, wavefront="wall", decay=0.0, step=1):
    """(pieces, i, gamma, Zc S) of every piece i from lip end to open end (`step` -1: the other
    way), as `piece_matrix` takes them; `omega` in rad/s above 0, shape (n,), `decay` in 1/s."""
    pieces, share = _elements(bore, wall_loss, wavefront)
    for i in range(len(pieces.x))[::step]:
        here = air.at_share(share[i])
        mean = 0.5 * (pieces.r_in[i] + pieces.r_out[i])
        gamma, z = propagation(mean, omega, here, wall_loss)
        yield pieces, i, gamma + decay / here.sound_speed, z * np.pi * mean**2


def piece_matrix(pieces, i, gamma, z_area, after=0.0):
    """(A, B, C, D) of piece i, or of what lies beyond the share `after` of it."""
    r_in, r_out = pieces.r_in[i], pieces.r_out[i]
    length = pieces.length[i] * (1 - after)
    if pieces.cap[i] or r_in == r_out:
        return _tube_matrix(length, gamma, z_area / pieces.area[i])
    return cone_matrix(length, r_in + (r_out - r_in) * after, r_out, gamma, z_area)


def chain(bore, air, omega, wall_loss=True, wavefront="wall", decay=0.0, step=1):
    """The matrices of all pieces, from lip end to open end (`step` -1: the other way)."""
    for piece in along(bore, air, omega, wall_loss, wavefront, decay, step):
        yield piece_matrix(*piece)


def _product(bore, air, omega, wall_loss, wavefront, decay):
    """The chain's product (A, B, C, D), all pieces at once: quicker for a few frequencies."""
    pieces, share = _elements(bore, wall_loss, wavefront)
    here = air.along(share[:, None])
    r_in, r_out, length, area = (
        v[:, None] for v in (pieces.r_in, pieces.r_out, pieces.length, pieces.area)
    )
    mean = 0.5 * (r_in + r_out)
    gamma, z = propagation(mean, omega[None, :], here, wall_loss)
    gamma = gamma + decay / here.sound_speed
    z_area = z * np.pi * mean**2
    tube = (pieces.cap | (pieces.r_in == pieces.r_out))[:, None]
    sine, cosine = np.sinh(gamma * length), np.cosh(gamma * length)
    tubes = (cosine, z_area / area * sine, area / z_area * sine, cosine)
    cones = cone_matrix(length, r_in, r_out, gamma, z_area)
    a, b, c, d = (np.where(tube, t, o) for t, o in zip(tubes, cones, strict=True))
    chain = np.stack([np.stack([a, b], -1), np.stack([c, d], -1)], -2)
    while len(chain) > 1:  # neighbours in pairs, an odd one left for the next round
        even = len(chain) // 2 * 2
        chain = np.concatenate([chain[:even:2] @ chain[1:even:2], chain[even:]])
    return chain[0, :, 0, 0], chain[0, :, 0, 1], chain[0, :, 1, 0], chain[0, :, 1, 1]


def end_angle(bore, wavefront="wall") -> float:
    """Half angle of the last wave front, radians; 0 for a plane one."""
    return wavefronts.end_angle(bore) if wavefront == "wall" else 0.0


def open_load(bore, air, omega, wavefront="wall"):
    """What the open end works against, Pa s/m3, complex, shape of `omega` (rad/s)."""
    return end_load(bore.radius[-1], end_angle(bore, wavefront), omega, air.at_open_end, bore.end)


def _impedance(bore, air, omega, wall_loss, wavefront, decay=0.0):
    how = (bore, air, omega, wall_loss, wavefront, decay)
    # from the open end, one matrix at a time: all of them could take gigabytes
    matrices = iter([_product(*how)]) if len(omega) <= FEW else chain(*how, step=-1)
    if bore.end == "closed":
        a, _, c, _ = next(matrices)
        z = a / c
    else:
        z = open_load(bore, air, omega, wavefront)
    for a, b, c, d in matrices:
        z = (a * z + b) / (c * z + d)
    return z


def _prepare(bore, frequency, end):
    bore = bore.replaced_end(end)
    frequency = np.atleast_1d(np.asarray(frequency))
    return bore, frequency, 2 * np.pi * frequency


@of_frequency
def impedance(bore, air, frequency, wall_loss=True, end=None, wavefront="wall"):
    """Input impedance p/u at the lip end in Pa s/m3, complex, of the shape of `frequency`.

    frequency: Hz above 0, a number or an array; complex values are allowed (growing or decaying
    sound); wall_loss: Zwikker and Kosten's losses; end: overrides the bore's own; wavefront:
    "wall" or "plane" (axial).  Raises TypeError and ValueError.

    >>> f"{abs(impedance(instrument('pipe'), Air.at(22.0), 100.0)) / 1e6:.1f} MPa s/m3"
    '1.0 MPa s/m3'
    """
    bore, frequency, omega = _prepare(bore, frequency, end)
    if not np.iscomplexobj(frequency) and not np.all(frequency > 0):
        raise ValueError("impedance: every frequency must be above 0 Hz")
    return _impedance(bore, air, omega, wall_loss, wavefront)


@of_frequency
def reflectance(bore, air, frequency, wall_loss=True, end=None, wavefront="wall", decay=0.0):
    """Pressure reflection coefficient p-/p+ at the lip end, complex, of the shape of `frequency`.

    Referred to rho c / S of the bore's first radius; frequency: Hz, 0 allowed (the limit there:
    -1 for an open end, +1 for a closed one); decay: 1/s, an artificial even attenuation along
    the tube; the rest as for `impedance`.

    >>> reflectance(instrument("pipe"), Air.at(22.0), [0.0, 100.0]).shape
    (2,)
    """
    bore, frequency, omega = _prepare(bore, frequency, end)
    still = frequency == 0
    result = np.full(frequency.shape, 1.0 if bore.end == "closed" else -1.0, complex)
    if np.any(~still):
        z = _impedance(bore, air, omega[~still], wall_loss, wavefront, decay)
        lips = air.at_lips
        ratio = z * np.pi * bore.radius[0] ** 2 / (lips.density * lips.sound_speed)
        result[~still] = (ratio - 1) / (ratio + 1)
    return result
