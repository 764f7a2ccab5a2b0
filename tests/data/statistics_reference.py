"""Writes statistics_reference.csv: values that the statistics are checked against.

Run with Python 3.11, numpy and scipy (versions are written into the file's first line):
    python statistics_reference.py > statistics_reference.csv
"""
import platform

import numpy
import scipy
from scipy import stats

print(f"# python {platform.python_version()}, numpy {numpy.__version__}, scipy {scipy.__version__}")
print("what,a,b,c,low,high")
for count in (0, 1, 2, 3, 5, 10, 20, 57, 100, 1000):
    for level in (0.9, 0.95, 0.99):
        tail = (1 - level) / 2
        low = 0.0 if count == 0 else float(stats.chi2.ppf(tail, 2 * count) / 2)
        high = float(stats.chi2.ppf(1 - tail, 2 * count + 2) / 2)
        print(f"poisson_mean,{count},{level},,{low!r},{high!r}")
for freedom in (1, 2, 3, 5, 10, 30, 120):
    for level in (0.8, 0.9, 0.95, 0.99):
        value = float(stats.t.ppf(0.5 + level / 2, freedom))
        print(f"t_quantile,{freedom},{level},,{value!r},")
for events, total, share in ((5, 10, 0.25), (57, 80, 0.25), (3, 12, 0.25), (9, 9, 0.5), (40, 100, 1 / 3), (20, 30, 1 / 6)):
    value = float(stats.binom.sf(events - 1, total, share))
    print(f"binomial_surplus,{events},{total},{share!r},{value!r},")
