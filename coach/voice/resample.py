"""Sound at another rate. Needs numpy: for the rendering and the listening process only."""

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float64]


def at_rate(samples: Samples, from_hz: int, to_hz: int) -> Samples:
    """``samples``, taken at ``from_hz``, as if taken at ``to_hz``.

    In the frequency domain: what lies above half the new rate goes, and nothing is invented above
    what was there.
    """
    length = len(samples) * to_hz // from_hz
    fitted: Samples = np.fft.irfft(np.fft.rfft(samples)[: length // 2 + 1], length)
    return fitted * (length / len(samples))
