"""The running rms over 1 s on bursts of a tone, against what an exponential detector must show.

The exponential form of ISO 2631-1's running rms and the setting "slow" of sound level meters are one detector: an
exponential mean of squares with a time constant of 1 s. For sound level meters its largest reading on a burst of a
tone, against that on the tone without end, is published: 10 lg(1 - exp(-T/1 s)) for a burst of T.

IEC 60651, appendix C: decibels to two places as the maker of a sound level meter, type 2245, prints them in its
instruction manual, page 59, table 4.10; seen at
http://38.142.81.21:8001/manual/laird-technologies/2245-1/1-instruction-manual-english/page-59.html
IEC 61672-1:2013, table 4, one place: from memory.

Squares are taken as means over each step, so that nothing but the detector is looked at. At the longest step the
share of a step that is no longer small is held too: step/τ in its place would be 0.01 dB off.
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from checks import check_all
from ridefront.response.digital import LONGEST_STEP, running_share

PRINTED = {2.0: "-0.63", 0.5: "-4.05", 0.2: "-7.42", 0.05: "-13.12"}  # by length of the burst, s; dB
TABLE = {
    1.0: "-2.0", 0.5: "-4.1", 0.2: "-7.4", 0.1: "-10.2", 0.05: "-13.1", 0.02: "-17.0", 0.01: "-20.0", 0.005: "-23.0",
    0.002: "-27.0",
}  # fmt: skip


def largest(seconds: float, step: float) -> float:
    """Largest running rms of a burst over the rms of its tone, dB; a second of silence before and after it."""
    before, burst = round(1 / step), round(seconds / step)
    square = np.zeros(2 * before + burst)
    square[before : before + burst] = 1.0
    share = running_share(step)
    running = scipy.signal.lfilter([share], [1.0, share - 1.0], square)
    return float(10 * np.log10(running.max()))


@pytest.mark.parametrize(
    ("source", "theirs", "step", "room", "how"),
    [
        ("IEC 60651, appendix C, detector with 1 s", PRINTED, LONGEST_STEP, 0.0055, "seen in a maker's manual"),
        ("IEC 61672-1:2013, table 4, detector with 1 s", TABLE, 1e-3, 0.055, "memory"),
    ],
    ids=["IEC 60651", "IEC 61672-1"],
)
def test_running_rms_of_bursts(source: str, theirs: dict[float, str], step: float, room: float, how: str) -> None:
    """Within their rounding, which is half a unit of the last place."""
    check_all(
        figure="largest running rms of a burst of a tone over the rms of the tone",
        source=source,
        theirs=list(theirs.values()),
        ours=[largest(seconds, step) for seconds in theirs],
        at=[f"burst of {1000 * seconds:g} ms" for seconds in theirs],
        unit="dB",
        abs=room,
        how=how,
    )
