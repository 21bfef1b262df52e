"""The tables of the review with pandas and NumPy, from tables that are in memory already.

Prints the seconds it took (median of five, or of as many as a second argument says), then what each part took. The tables: outcomes by load,
kiln, schedule, season and month with Wilson intervals; traits with and without; EWMA and CUSUM for
each kiln and load (time, climb, soak) and each kiln (probe); the grid posterior of each load's
tolerance; the two-way fit of places; costs by load, kiln and month.
"""

import sys
import time

import numpy as np
import pandas as pd

Z = 1.959963984540054
folder = sys.argv[1]
firings = pd.read_csv(f"{folder}/firings.csv")
shelves = pd.read_csv(f"{folder}/shelves.csv")


def wilson(hits, of):
    share = hits / of
    centre = share + Z * Z / (2 * of)
    half = Z * np.sqrt(share * (1 - share) / of + Z * Z / (4 * of * of))
    return (centre - half) / (1 + Z * Z / of), (centre + half) / (1 + Z * Z / of)


def outcomes(f):
    rows = 0
    for by in ["load", "kiln", "schedule", "season", "month"]:
        counts = f.groupby([by, "verdict"]).size().unstack(fill_value=0)
        of = counts.sum(axis=1)
        for verdict in counts:
            wilson(counts[verdict], of)
        rank = f.groupby(by).cumcount()
        later = rank >= f.groupby(by)[by].transform("size") // 2
        (f["verdict"] == "good").groupby([f[by], later]).agg(["sum", "size"])
        rows += len(counts)
    f.groupby("verdict")[["off_late", "over"]].median()
    return rows


def traits(f):
    missed = f["verdict"] != "good"
    usual = f.groupby(["kiln", "load"])["climb"].transform("median")
    most = f.groupby(["kiln", "load"])["pieces"].transform("max")
    for had in [f["gap"] > 10, f["off_late"] > 3, f["climb"] > 1.25 * usual, f["pieces"] < 0.6 * most]:
        counts = missed.groupby(had).agg(["sum", "size"])
        wilson(counts["sum"], counts["size"])


def chart(values):
    usual = values[:30]
    mean, sigma = usual.mean(), usual.std(ddof=1)
    z = np.clip((values[30:] - mean) / sigma, -3, 3)
    pd.Series(z).ewm(alpha=0.2, adjust=False).mean()
    steps = z - 0.5
    total = np.cumsum(steps)
    high = total - np.minimum.accumulate(np.minimum(total, 0))
    total = np.cumsum(-z - 0.5)
    low = total - np.minimum.accumulate(np.minimum(total, 0))
    return (high > 8.5).any() or (low > 8.5).any()


def drift(f):
    for _, group in f.groupby(["kiln", "load"]):
        for measure in ["minutes", "climb", "soak"]:
            values = group[measure].dropna().to_numpy()
            if len(values) > 30:
                chart(values)
    for _, group in f.groupby("kiln"):
        values = group["probe"].dropna().to_numpy()
        if len(values) > 30:
            chart(values)


def phi(z):
    # A logistic stand-in for the normal distribution: cheaper than the real one.
    return 1 / (1 + np.exp(-1.702 * z))


def tolerance(f):
    edges = 6 * (np.arange(240) + 0.5) / 240
    for _, group in f.groupby("load"):
        known = group.dropna(subset=["over", "spread"])
        for sign, side in [(-1, "under"), (1, "over")]:
            beyond = sign * known["over"].to_numpy()
            missed = (known["verdict"] == side).to_numpy()
            spread = known["spread"].to_numpy()
            # The same binning as ours.
            bins = pd.DataFrame({
                "b": np.round(np.clip(beyond, -3, 8) / 0.02),
                "s": np.round(np.minimum(spread, 3) / 0.05),
                "m": missed,
            }).groupby(["b", "s"])["m"].agg(["sum", "size"]).reset_index()
            for soft in [0.05, 0.1, 0.16, 0.25, 0.4, 0.63]:
                s = np.sqrt(soft**2 + (bins["s"].to_numpy() * 0.05) ** 2)
                z = (bins["b"].to_numpy()[:, None] * 0.02 - edges[None, :]) / s[:, None]
                p = 0.01 + 0.98 * phi(z)
                hits = bins["sum"].to_numpy()
                hits @ np.log(p) + (bins["size"].to_numpy() - hits) @ np.log1p(-p)


def evenness(s):
    ended = 20 * s["cone"] + np.array([-20, -10, -3, 10])[s["seen"]]
    for _, group in s.assign(ended=ended).groupby("kiln"):
        place = pd.Series(0.0, index=group.index)
        for _ in range(20):
            firing = (group["ended"] - place).groupby(group["id"]).transform("mean")
            place = (group["ended"] - firing).groupby(group["place"]).transform("mean")


def cost(f):
    fuel = 3.0 * f["hours"] * 1.2
    work = 28 * (90 + 4 * f["looks"]) / 60
    total = fuel + 1.2 + work
    over = f["worth"].where(f["verdict"] == "over", 0)
    lost = f["loss"].fillna(over)
    table = pd.DataFrame({"fuel": fuel, "work": work, "total": total, "lost": lost, "pieces": f["pieces"]})
    for by in ["load", "kiln", "month"]:
        sums = table.groupby(f[by]).sum()
        sums["total"] / sums["pieces"]


def run():
    took = {}
    for name, part in [
        ("outcomes", lambda: outcomes(firings)),
        ("traits", lambda: traits(firings)),
        ("drift", lambda: drift(firings)),
        ("tolerance", lambda: tolerance(firings)),
        ("evenness", lambda: evenness(shelves)),
        ("cost", lambda: cost(firings)),
    ]:
        begun = time.perf_counter()
        part()
        took[name] = time.perf_counter() - begun
    return took


rounds = [run() for _ in range(int(sys.argv[2]) if len(sys.argv) > 2 else 5)]
print(np.median([sum(took.values()) for took in rounds]))
for name in rounds[0]:
    print(f"{name}: {np.median([took[name] for took in rounds]):.3f} s")
