"""The NumPy side of the heat-work benchmark: a trapezoid over k(T), written as one would.

Usage: heat_work_numpy.py FOLDER READINGS_PER_FIRING. Reads the files `hours`, `celsius` and
`pieces` (raw doubles), says what it is, then runs once for each line on its input and answers with
the nanoseconds it took. At the end of the input it writes `results`. Three ways of writing it are
timed at the start and the fastest one runs: all firings at once with the numbers of each piece
gathered for each reading, all at once with a mask for each piece, and firing by firing.
"""

import sys
import time
from pathlib import Path

try:
    import numpy as np
except ImportError:
    sys.exit(3)

KELVIN = 273.15


def law(kind, t, at, scale, growth):
    """k(T) of one piece, per hour."""
    if kind == 1.0:
        return scale * np.exp(growth * (t - at))
    kelvin = t + KELVIN
    return scale * growth / (kelvin * kelvin) * np.exp(growth * (1 / (at + KELVIN) - 1 / kelvin))


def k_gathered(t, pieces):
    if len(pieces) == 1:
        return law(*pieces[0, 1:2], t, *pieces[0, 2:])
    _, kind, at, scale, growth = pieces.T[:, np.searchsorted(pieces[:-1, 0], t)]
    kelvin = t + KELVIN
    kissinger = kind == 0.0
    exponent = growth * np.where(kissinger, 1 / (at + KELVIN) - 1 / kelvin, t - at)
    return scale * np.where(kissinger, growth / (kelvin * kelvin), 1.0) * np.exp(exponent)


def k_masked(t, pieces):
    if len(pieces) == 1:
        return law(*pieces[0, 1:2], t, *pieces[0, 2:])
    k = np.empty_like(t)
    low = -np.inf
    for up_to, kind, at, scale, growth in pieces:
        inside = (t > low) & (t <= up_to)
        if inside.any():
            k[inside] = law(kind, t[inside], at, scale, growth)
        low = up_to
    return k


def at_once(k):
    return lambda hours, celsius, pieces: np.trapezoid(k(celsius, pieces), hours, axis=1)


def one_by_one(hours, celsius, pieces):
    return np.array([np.trapezoid(k_masked(t, pieces), h) for h, t in zip(hours, celsius)])


def timed(run, *arguments):
    start = time.perf_counter_ns()
    result = run(*arguments)
    return time.perf_counter_ns() - start, result


def main():
    folder, readings = Path(sys.argv[1]), int(sys.argv[2])
    hours = np.fromfile(folder / "hours").reshape(-1, readings)
    celsius = np.fromfile(folder / "celsius").reshape(-1, readings)
    pieces = np.fromfile(folder / "pieces").reshape(-1, 5)
    ways = {"gathered": at_once(k_gathered), "masked": at_once(k_masked), "one by one": one_by_one}
    data = (hours, celsius, pieces)
    fastest = min(ways, key=lambda way: min(timed(ways[way], *data)[0] for _ in range(2)))
    print(f"NumPy {np.__version__} trapezoid, {fastest}", flush=True)
    result = None
    for _ in sys.stdin:
        nanoseconds, result = timed(ways[fastest], *data)
        print(nanoseconds, flush=True)
    result.tofile(folder / "results")


if __name__ == "__main__":
    main()
