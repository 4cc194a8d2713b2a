"""Thirds, correlation and coherence of four sounds by scipy.signal, as JSON on standard output.

Kept in spectra.json; the test in scipy.rs compares our readings with that file, and runs this script again where
python3 has scipy.

The sounds are made of a generator that any language can have: x' = (1664525 x + 1013904223) mod 2^32 (Knuth's and
Lewis's constants, from memory), a sample is x / 2^31 - 1, rounded to single precision after scaling.
"""

import json
import platform

import numpy
import scipy
from scipy.signal import coherence, csd, welch

RATE = 48_000
FRAMES = 12 * RATE
WINDOW = 16_384
# Base-ten thirds of IEC 61260-1, 20 Hz to 20 kHz.
THIRDS = [1_000.0 * 10 ** (0.3 * x / 3) for x in range(-17, 14)]


def noise(seed):
    out = numpy.empty(FRAMES)
    state = seed
    for n in range(FRAMES):
        state = (1_664_525 * state + 1_013_904_223) % 2**32
        out[n] = state / 2**31 - 1.0
    return out


def single(x):
    return x.astype(numpy.float32).astype(float)


def sounds():
    a, b = noise(1), noise(2)
    late = numpy.concatenate([numpy.zeros(200), a[:-200]])
    yield "unrelated", 0.2 * a, 0.2 * b
    yield "shared", 0.2 * a, 0.2 * (0.8 * a + 0.6 * b)
    yield "late by 200 samples", 0.2 * a, 0.2 * late
    yield "inverted", 0.2 * a, -0.1 * a


def inside(hz, low, high):
    """The share of each bin, half a bin to either side of its frequency, that lies inside a third."""
    half = hz[1] / 2
    return numpy.clip(numpy.minimum(hz + half, high) - numpy.maximum(hz - half, low), 0, 2 * half) / (2 * half)


def readings(left, right):
    given = {"fs": RATE, "window": "hann", "nperseg": WINDOW, "noverlap": WINDOW * 3 // 4}
    dense = {**given, "detrend": False, "scaling": "density"}
    hz, ll = welch(left, **dense)
    _, rr = welch(right, **dense)
    _, lr = csd(left, right, **dense)
    _, coherent = coherence(left, right, **given, detrend=False)
    for mid in THIRDS:
        share = inside(hz, mid * 10**-0.05, mid * 10**0.05)
        sll, srr, slr = ((share * s).sum() * hz[1] for s in (ll, rr, lr))
        weight = share * numpy.sqrt(ll * rr)
        yield {
            "mid_hz": mid,
            "level_dbfs": 10 * numpy.log10(sll + srr),
            "correlation": slr.real / numpy.sqrt(sll * srr),
            "coherence": (weight * coherent).sum() / weight.sum(),
        }


print(
    json.dumps(
        {
            "versions": {
                "python": platform.python_version(),
                "numpy": numpy.__version__,
                "scipy": scipy.__version__,
            },
            "sounds": {
                name: list(readings(single(left), single(right))) for name, left, right in sounds()
            },
        },
        indent=1,
    )
)
