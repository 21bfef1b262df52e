"""The sums of benches/forecast.rs in NumPy, vectorised over the samples.

Called by that bench with the folder of its inputs; prints its own times and quantiles. The kiln's
way ahead is walked stretch by stretch with all samples at once, which is as well as NumPy can do:
each stretch needs the time its sample has reached.
"""

import sys
import time
from pathlib import Path

import numpy as np

SAMPLES = 10_000
KELVIN = 273.15
KNOTS = np.array([0.2, 0.5, 1.0, 2.0, 4.0])
SLOWEST, FURTHEST = 4.0, 48.0


def load(name):
    return np.fromfile(Path(sys.argv[1]) / name, dtype="<f8")


def fastest(run, times=100):
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        result = run()
        best = min(best, time.perf_counter() - start)
    return best, result


class Curve:
    """B and its inverse over the pieces of one cone."""

    def __init__(self, rows):
        self.rows = rows.reshape(-1, 6)
        self.ends = self.rows[:-1, 1]
        self.end_rates = np.array([self._rate(self.rows[i], t) for i, t in enumerate(self.ends)])

    @staticmethod
    def _rate(row, t):
        kind, _, at, rate, a, b = row
        if kind == 0.0:
            return rate * np.exp(a * (t - at) / ((at + KELVIN) * (t + KELVIN)))
        return rate + a * np.expm1(b * (t - at)) / b

    @staticmethod
    def _temperature(row, rate):
        kind, _, at, at_rate, a, b = row
        if kind == 0.0:
            shift = (at + KELVIN) * np.log(rate / at_rate) / a
            return at + (at + KELVIN) * shift / (1.0 - shift)
        return at + np.log1p(b * (rate - at_rate) / a) / b

    def _by_piece(self, place, values, law):
        out = np.empty_like(values)
        for i, row in enumerate(self.rows):
            mask = place == i
            if mask.any():
                out[mask] = law(row, values[mask])
        return out

    def rate(self, t):
        return self._by_piece(np.searchsorted(self.ends, t), t, self._rate)

    def temperature(self, rate):
        return self._by_piece(np.searchsorted(self.end_rates, rate), rate, self._temperature)


def heavier_tail(z, freedom):
    fourth, second = 1.0 / (4.0 * freedom), 1.0 / (96.0 * freedom * freedom)
    square = z * z
    tail = square * (5.0 * second)
    tail += fourth + 16.0 * second
    tail *= square
    tail += 1.0 + fourth + 3.0 * second
    tail *= z
    return tail


def horner(coefficients, x):
    value = np.full_like(x, coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        value *= x
        value += coefficient
    return value


def steady(model, end_point, normals):
    read_h, read_c, mean, spread, freedom, more, more_spread, more_freedom = model[:8]
    rate = mean + spread * heavier_tail(normals[0], freedom)
    needed = more + more_spread * heavier_tail(normals[1], more_freedom)
    end_c = end_point(rate + needed)
    end_c -= read_c
    end_c *= np.exp(-rate)
    end_c += read_h
    return end_c


def chance_below(x):
    terms = [0.17087277, -0.82215223, 1.48851587, -1.13520398, 0.27886807, -0.18628806,
             0.09678418, 0.37409196, 1.00002368, -1.26551223]
    z = np.abs(x) / np.sqrt(2.0)
    t = 1.0 / (1.0 + 0.5 * z)
    tail = 0.5 * t * np.exp(-z * z + np.polyval(terms, t))
    return np.where(x > 0.0, 1.0 - tail, tail)


def wandering(model, points):
    head, rest = model[:13], model[13:]
    (_, stretches, done0, anchor, per_degree, from_c, ahead_climb, slow_mean, slow_spread,
     bias_mean, bias_spread, bias_freedom, tolerance) = head
    cumulative, rest = rest[:4], rest[4:]
    states, rest = rest[:36].reshape(4, 9), rest[36:]
    kept, rest = rest[:10].reshape(5, 2), rest[10:]
    ahead = rest.reshape(int(stretches), 3)
    mood = np.minimum(np.searchsorted(cumulative, chance_below(points[:, 0]), side="right"), 3)
    m, z = states[mood], points[:, 1:4]
    c = m[:, 0] + m[:, 3] * z[:, 0]
    lasting = m[:, 1] + m[:, 4] * z[:, 0] + m[:, 5] * z[:, 1]
    passing = m[:, 2] + m[:, 6] * z[:, 0] + m[:, 7] * z[:, 1] + m[:, 8] * z[:, 2]
    start = np.log(np.maximum(lasting + passing, SLOWEST) / ahead_climb)
    lasting = np.log(np.maximum(lasting, SLOWEST) / ahead_climb)
    restless = np.array([0.04, 0.10, 0.22, 0.5])[mood]
    paces = np.empty((len(points), 6))
    paces[:, 0] = start
    for k in range(5):
        paces[:, k + 1] = (lasting + (paces[:, k] - lasting) * kept[k, 0]
                           + restless * kept[k, 1] * points[:, 9 + k])
    slowing = slow_mean + slow_spread * points[:, 8]
    common = bias_spread * heavier_tail(points[:, 4], bias_freedom) + bias_mean
    needed = np.exp(common - tolerance * points[:, 6])
    warmer = np.exp(per_degree * (c - from_c))
    starts = np.concatenate([[0.0], KNOTS[:-1]])
    slopes = (paces[:, 1:] - paces[:, :-1]) / (KNOTS - starts)
    after = np.zeros(len(points))
    done = np.full(len(points), done0)
    drop = np.full(len(points), np.nan)
    each = np.arange(len(points))
    for middle_c, hours, work in ahead:
        knot = np.searchsorted(KNOTS, after, side="right")
        inner = np.minimum(knot, 4)
        pace = np.where(
            knot > 4, paces[:, 5],
            paces[each, inner] + slopes[each, inner] * (after - starts[inner]))
        slower = np.exp(-pace - slowing * (middle_c - from_c))
        added = work * slower * warmer
        reaches = np.isnan(drop) & (done + added >= needed)
        drop = np.where(reaches, anchor + after + (needed - done) / added * hours * slower, drop)
        done += added
        after += hours * slower
        if not np.isnan(drop).any():
            break
    return np.minimum(np.where(np.isnan(drop), np.inf, drop), anchor + FURTHEST)


def taken_in(curve, readings):
    """Reading by reading, as they come: nothing to vectorise over but the numbers themselves."""
    total, (before_h, before_c) = 0.0, readings[0]
    for at_h, c in readings[1:]:
        rate, before = curve.rate(np.array([c, before_c]))
        if c != before_c:
            total += (rate - before) / (c - before_c) * (at_h - before_h)
        before_h, before_c = at_h, c
    return total


def three(values):
    ordered = np.sort(values)
    return [round(float(ordered[int(part * (len(ordered) - 1))]), 6) for part in (0.05, 0.5, 0.95)]


def main():
    curve = Curve(load("laws"))
    readings = load("readings").reshape(-1, 2)
    random = np.random.default_rng(2)
    model = load("steady")
    middle, per_half, *coefficients = model[8:]
    log_rates = np.linspace(middle - 4.0, middle + 4.0, 1000)
    ends = curve.temperature(np.exp(log_rates))

    def by_table(log_rate):
        return np.interp(log_rate, log_rates, ends)

    def by_polynomial(log_rate):
        return horner(coefficients, np.clip((log_rate - middle) * per_half, -1.0, 1.0))

    def drawn(end_point):
        return lambda: steady(model, end_point, random.standard_normal((2, SAMPLES)))

    times = [("10,000 drop times, steady climb:   ", *fastest(drawn(by_table), 500)),
             ("    by the same polynomial:         ", *fastest(drawn(by_polynomial), 500))]
    ours = steady(model, by_table, load("steady-points").reshape(SAMPLES, 2).T)
    print(f"steady: from the same numbers within {np.abs(ours - load('steady-drops')).max():.1e} h")
    off = []
    for name, title in (("late", "10,000 drop times, wandering climb:"),
                        ("early", "10,000 whole firings:              ")):
        model = load(name)
        unknowns = int(model[0])
        times.append((title, *fastest(
            lambda: wandering(model, random.standard_normal((SAMPLES, unknowns))))))
        ours = wandering(model, load(name + "-points").reshape(SAMPLES, -1))
        off.append(np.abs(ours - load(name + "-drops")).max())
    reading_s, _ = fastest(lambda: taken_in(curve, readings), 3)
    print(f"NumPy {np.__version__}:")
    for title, seconds, drops in times:
        print(f"{title} {seconds * 1e3:8.3f} ms {three(drops)} h")
    print(f"one reading taken in, one cone:     {reading_s / len(readings) * 1e9:8.1f} ns")
    print(f"from the same numbers the drop times differ by at most {max(off):.1e} h")


main()
