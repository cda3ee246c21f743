"""From a vehicle at rest and a road to mean squares: the frequency domain, weightings, and the compiled kernel.

weighting        frequency weightings of ISO 2631-1
grid             frequencies and quadrature weights of a condition
kernel_spectrum  the compiled part; imports nothing of ours
kernel_full      likewise, for a full car that is not alike left and right
frequency        what prepares its input; statistical linearisation
"""
