"""High-precision reference for heat work on straight steps: writes heat_work_mpmath.csv beside it.

Rebuilds the rate law of every cone from assets/cone_chart.csv with mpmath, 80 digits, from its
description alone:

* one or two published rates: ln B is straight in 1/T (with one, the slope is that of the two
  hottest rows of the self-supporting cone of the same number);
* three: between the published temperatures ln k is straight in T, k at the middle one is the
  geometric mean of what the two straight lines of ln B in 1/T give there, and the area under k
  between two published temperatures is the step of the published rate; outside them ln B is
  straight in 1/T, with k unbroken.

The mean of k over a step is then (B(to) - B(from)) / (to - from); for a level step it is k.

Columns: cone, family, from_c, to_c (shortest text that gives the same double), and
mean_per_h: the mean of k, heat work per hour, to 25 digits.

Usage: python3 heat_work_mpmath.py (needs mpmath; a few seconds). The random numbers are seeded,
so that the file comes out the same each time.
"""

import csv
import random
from pathlib import Path

from mpmath import exp, expm1, findroot, ln, mp, mpf, nstr, sqrt

mp.dps = 80
HERE = Path(__file__).resolve().parent
CHART = HERE.parent.parent / "assets" / "cone_chart.csv"
ZERO_C = mpf("273.15")


class Kissinger:
    """ln B straight in 1/T, through (at, rate) with this slope."""

    def __init__(self, at, rate, slope):
        self.at, self.rate, self.slope = at, rate, slope

    def b(self, t):
        return self.rate * exp(self.slope * (1 / (self.at + ZERO_C) - 1 / (t + ZERO_C)))

    def k(self, t):
        return self.b(t) * self.slope / (t + ZERO_C) ** 2


class StraightLnK:
    """ln k straight in T, through (at, k_at), with B = rate at `at`."""

    def __init__(self, at, rate, k_at, growth):
        self.at, self.rate, self.k_at, self.growth = at, rate, k_at, growth

    def b(self, t):
        return self.rate + self.k_at * expm1(self.growth * (t - self.at)) / self.growth

    def k(self, t):
        return self.k_at * exp(self.growth * (t - self.at))


class Curve:
    def __init__(self, uppers, laws):
        self.uppers, self.laws = uppers, laws

    def law(self, t):
        for upper, law in zip(self.uppers, self.laws):
            if t <= upper:
                return law
        return self.laws[-1]

    def mean(self, low, high):
        low, high = mpf(low), mpf(high)
        if low == high:
            return self.law(low).k(low)
        return (self.law(high).b(high) - self.law(low).b(low)) / (high - low)

    def end_point(self, rate):
        low, high = mpf(100), mpf(2000)
        while high - low > mpf("1e-15"):
            middle = (low + high) / 2
            if self.law(middle).b(middle) < rate:
                low = middle
            else:
                high = middle
        return float(low)


def slope(cool, hot):
    return ln(hot[1] / cool[1]) / (1 / (cool[0] + ZERO_C) - 1 / (hot[0] + ZERO_C))


def growth(span, area):
    """The g with (e^(g span) - 1)/g = area."""
    return findroot(lambda g: expm1(g * span) / g - area, (mpf("0.01"), mpf("0.02")))


def three_rates(cool, middle, hot):
    t_squared = (middle[0] + ZERO_C) ** 2
    k_middle = middle[1] / t_squared * sqrt(slope(cool, middle) * slope(middle, hot))
    fall, rise = middle[0] - cool[0], hot[0] - middle[0]
    # Below the middle the area is counted downwards, so its growth comes out with the other sign.
    below = -growth(fall, (middle[1] - cool[1]) / k_middle)
    above = growth(rise, (hot[1] - middle[1]) / k_middle)
    inner = [StraightLnK(*middle, k_middle, g) for g in (below, above)]
    k_cool, k_hot = inner[0].k(cool[0]), inner[1].k(hot[0])
    outer = [
        Kissinger(t, rate, k * (t + ZERO_C) ** 2 / rate)
        for (t, rate), k in ((cool, k_cool), (hot, k_hot))
    ]
    assert abs(inner[0].b(cool[0]) / cool[1] - 1) < mpf("1e-60")
    assert abs(inner[1].b(hot[0]) / hot[1] - 1) < mpf("1e-60")
    return Curve([cool[0], middle[0], hot[0]], [outer[0], *inner, outer[1]])


def curves():
    chart = {}
    with CHART.open() as file:
        for row in csv.DictReader(file):
            point = (mpf(row["end_c"]), mpf(row["rate_c_per_h"]))
            chart.setdefault((row["cone"], row["family"]), []).append(point)
    for (cone, family), points in sorted(chart.items()):
        points.sort(key=lambda point: point[1])
        if len(points) == 3:
            curve = three_rates(*points)
        elif len(points) == 2:
            curve = Curve([], [Kissinger(*points[1], slope(*points))])
        else:
            lender = sorted(chart[(cone, "self-supporting")], key=lambda point: point[1])
            curve = Curve([], [Kissinger(*points[0], slope(*lender[-2:]))])
        yield cone, family, points, curve


def steps(points, curve):
    """Pairs of temperatures, C: up, down and level, from 1e-9 C to 1380 C long."""
    ends = [curve.end_point(rate) for rate in random.sample([5, 15, 37, 60, 150, 300, 600], 3)]
    yield 20.0, 1400.0
    yield 1400.0, 20.0
    for end in ends:
        yield end, end
        yield 20.0, end
        yield end, end - 10 ** random.uniform(-9, 2)
    for t, _ in points:
        t = float(t)
        yield t, t
        yield t - 10 ** random.uniform(-9, 1), t + 10 ** random.uniform(-9, 1)
        yield t + 10 ** random.uniform(-9, 2), t - 10 ** random.uniform(-9, 2)
    for _ in range(10):
        start = random.uniform(20, 1400)
        to = start + random.choice((-1, 1)) * 10 ** random.uniform(-9, 3.1)
        yield start, min(max(to, 20.0), 1400.0)
    for _ in range(4):
        start = random.choice(ends) + random.uniform(-40, 20)
        yield start, start + random.choice((-1, 1)) * 10 ** random.uniform(-9, 1.5)


def main():
    random.seed(2026)
    with (HERE / "heat_work_mpmath.csv").open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["cone", "family", "from_c", "to_c", "mean_per_h"])
        for cone, family, points, curve in curves():
            for start, to in steps(points, curve):
                mean = curve.mean(start, to)
                writer.writerow([cone, family, repr(start), repr(to), nstr(mean, 25)])


if __name__ == "__main__":
    main()
