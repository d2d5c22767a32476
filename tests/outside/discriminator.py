"""Judge: gradient-boosted trees on whole days, the open hourly year against simulated years.

Usage: discriminator.py HOURS.csv, as `believe --hourly` writes it. Prints the area under the ROC curve (0.5: the
judge guesses; 1: never wrong) from cross-validation in which the ten-day blocks of the real year, and all
simulated days of the same dates, are either learnt from or judged, never both.
"""

import os
import sys
import warnings

# One thread: the trees are small, and threads that wait for each other on a busy machine cost more than they save.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import pandas as pd
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.inspection import permutation_importance
from sklearn.metrics import roc_auc_score

warnings.filterwarnings("ignore")
QUANTITIES = ("t", "td", "rh", "p", "u", "v", "ws", "rain")
FOLDS = 6


def days_of(frame):
    """Hours by day: a dict of arrays (days, 24), with month and block of each day. Holes are bridged alike."""
    frame = frame.copy()
    # Humidity is worked out here from what both report; pressure lacks in special reports of both.
    e = lambda t: 17.67 * t / (243.5 + t)
    frame["rh"] = np.minimum(100, 100 * np.exp(e(frame.td) - e(frame.t)))
    turn = np.radians(frame.wd)
    calm = frame.ws == 0
    frame["u"] = np.where(calm, 0, -frame.ws * np.sin(turn))
    frame["v"] = np.where(calm, 0, -frame.ws * np.cos(turn))
    frame["rain"] = frame.rain.fillna(0)
    for name in ("t", "td", "rh", "p", "u", "v", "ws"):
        frame[name] = frame[name].interpolate(limit=4, limit_area="inside")
    counts = frame.groupby("date").hour.transform("size")
    frame = frame[counts == 24]
    dates = pd.to_datetime(frame.date.values[::24])
    x = {name: frame[name].to_numpy().reshape(-1, 24) for name in QUANTITIES + ("gust", "wd")}
    good = np.all([np.isfinite(x[name]).all(axis=1) for name in QUANTITIES], axis=0)
    x = {name: values[good] for name, values in x.items()}
    dates = dates[good]
    block = np.minimum((dates.dayofyear.to_numpy() - 1) // 10, 35)
    return x, dates.month.to_numpy(), block


def monthless(x, month):
    """Each quantity less its month's mean in that source: one real year must not be known by its climate."""
    out = {}
    for name in QUANTITIES:
        values = x[name].copy()
        if name not in ("rain", "rh"):
            for m in range(1, 13):
                if (month == m).any():
                    values[month == m] -= values[month == m].mean()
        out[name] = values
    return out


def raw_features(x, month):
    clean = monthless(x, month)
    names = [f"{name}_{hour:02d}h" for name in QUANTITIES for hour in range(24)]
    return pd.DataFrame(np.hstack([clean[name] for name in QUANTITIES]), columns=names)


def row_corr(a, b):
    a = a - a.mean(axis=1, keepdims=True)
    b = b - b.mean(axis=1, keepdims=True)
    with np.errstate(all="ignore"):
        return (a * b).sum(axis=1) / np.sqrt((a * a).sum(axis=1) * (b * b).sum(axis=1))


def summary_features(x, month):
    """What a forecaster would look at in a day."""
    f = {}
    clean = monthless(x, month)
    for name in ("t", "td", "rh", "p", "ws"):
        v, step = x[name], np.diff(x[name], axis=1)
        f[f"{name} range"] = np.ptp(v, axis=1)
        f[f"{name} sd"] = v.std(axis=1)
        f[f"{name} largest step"] = np.abs(step).max(axis=1)
        f[f"{name} median step"] = np.median(np.abs(step), axis=1)
        f[f"{name} roughness (mean |second difference|)"] = np.abs(np.diff(v, 2, axis=1)).mean(axis=1)
        f[f"{name} persistence lag 1"] = row_corr(v[:, 1:], v[:, :-1])
        f[f"{name} change over the day"] = v[:, -1] - v[:, 0]
        f[f"{name} departure from month"] = clean[name].mean(axis=1)
        f[f"{name} largest rise in 3 h"] = (v[:, 3:] - v[:, :-3]).max(axis=1)
        f[f"{name} largest fall in 3 h"] = (v[:, 3:] - v[:, :-3]).min(axis=1)
        f[f"{name} unchanged hours"] = (step == 0).sum(axis=1)
    f["t hour of maximum"] = x["t"].argmax(axis=1)
    f["t hour of minimum"] = x["t"].argmin(axis=1)
    f["t afternoon less morning (14-16 / 04-06)"] = x["t"][:, 14:17].mean(axis=1) - x["t"][:, 4:7].mean(axis=1)
    f["t evening cooling (16-22)"] = x["t"][:, 22] - x["t"][:, 16]
    f["t morning warming (06-10)"] = x["t"][:, 10] - x["t"][:, 6]
    f["t night cooling (00-05)"] = x["t"][:, 5] - x["t"][:, 0]
    f["ws afternoon less night"] = x["ws"][:, 13:17].mean(axis=1) - x["ws"][:, 1:5].mean(axis=1)
    f["p semidiurnal (10 h and 22 h less 4 h and 16 h)"] = (
        x["p"][:, [10, 22]].mean(axis=1) - x["p"][:, [4, 16]].mean(axis=1)
    )
    f["p diurnal (8 h less 17 h)"] = x["p"][:, 8] - x["p"][:, 17]
    spread = x["t"] - x["td"]
    f["T-Td smallest"] = spread.min(axis=1)
    f["T-Td largest"] = spread.max(axis=1)
    f["T-Td mean"] = spread.mean(axis=1)
    f["RH highest"] = x["rh"].max(axis=1)
    f["RH lowest"] = x["rh"].min(axis=1)
    f["hours RH >= 90"] = (x["rh"] >= 90).sum(axis=1)
    for a, b in (("t", "rh"), ("t", "td"), ("t", "p"), ("t", "ws"), ("td", "p"), ("p", "ws"), ("rh", "ws")):
        f[f"corr({a},{b})"] = row_corr(x[a], x[b])
    for a, b in (("t", "td"), ("t", "ws"), ("t", "p")):
        f[f"corr of steps ({a},{b})"] = row_corr(np.diff(x[a], axis=1), np.diff(x[b], axis=1))
    speed = x["ws"].mean(axis=1)
    vector = np.hypot(x["u"].mean(axis=1), x["v"].mean(axis=1))
    f["constancy of wind in the day"] = vector / np.maximum(speed, 0.1)
    turn = np.angle(np.exp(1j * np.radians(np.diff(x["wd"], axis=1))), deg=True)
    turn = np.where(np.isfinite(turn), turn, 0)
    f["turn median deg"] = np.median(np.abs(turn), axis=1)
    f["turn largest deg"] = np.abs(turn).max(axis=1)
    f["turn net deg (veer +)"] = turn.sum(axis=1)
    f["turns by 10 deg or less"] = (np.abs(turn) < 11).sum(axis=1)
    f["wind over land breeze: v afternoon less night"] = x["v"][:, 13:17].mean(axis=1) - x["v"][:, 1:5].mean(axis=1)
    f["u departure from month"] = clean["u"].mean(axis=1)
    f["v departure from month"] = clean["v"].mean(axis=1)
    f["calms"] = (x["ws"] == 0).sum(axis=1)
    f["gusts reported"] = np.isfinite(x["gust"]).sum(axis=1)
    with np.errstate(all="ignore"):
        factor = np.where(np.isfinite(x["gust"]) & (x["ws"] > 0), x["gust"] / x["ws"], np.nan)
        f["gust factor mean when reported"] = np.nanmean(factor, axis=1)
    wet = x["rain"] > 0.05
    f["wet hours"] = wet.sum(axis=1)
    f["rain of the day"] = x["rain"].sum(axis=1)
    f["rain of the wettest hour"] = x["rain"].max(axis=1)
    f["rain spells"] = (wet[:, 1:] & ~wet[:, :-1]).sum(axis=1) + wet[:, 0]
    with np.errstate(all="ignore"):
        inside = lambda v: np.nanmean(np.where(wet, v, np.nan), axis=1)
        f["T-Td in wet hours"] = inside(spread)
        f["RH in wet hours"] = inside(x["rh"])
        f["T in wet hours less day's mean"] = inside(x["t"]) - x["t"].mean(axis=1)
        f["p in wet hours less day's mean"] = inside(x["p"]) - x["p"].mean(axis=1)
        f["wind in wet hours less day's mean"] = inside(x["ws"]) - speed
    return pd.DataFrame(f)


def model(seed):
    return HistGradientBoostingClassifier(
        max_iter=120, learning_rate=0.08, max_leaf_nodes=12, min_samples_leaf=15, l2_regularization=1.0,
        random_state=seed,
    )


def judge(x, y, block, seed=0, importances=False):
    """AUC by fold of blocks; classes weigh alike."""
    rng = np.random.default_rng(seed)
    blocks = rng.permutation(np.unique(block))
    aucs, gains = [], []
    for fold in range(FOLDS):
        judged = np.isin(block, blocks[fold::FOLDS])
        learn = ~judged
        if len(np.unique(y[learn])) < 2 or len(np.unique(y[judged])) < 2:
            continue
        share = y[learn].mean()
        weight = np.where(y[learn] == 1, 0.5 / share, 0.5 / (1 - share))
        fitted = model(seed).fit(x[learn], y[learn], sample_weight=weight)
        aucs.append(roc_auc_score(y[judged], fitted.predict_proba(x[judged])[:, 1]))
        if importances:
            # As many simulated days as real ones are enough to measure by.
            some = np.flatnonzero(judged)
            simulated = rng.permutation(some[y[some] == 0])[: 3 * (y[some] == 1).sum()]
            some = np.concatenate([some[y[some] == 1], simulated])
            found = permutation_importance(
                fitted, x[some], y[some], scoring="roc_auc", n_repeats=2, random_state=seed
            )
            gains.append(found.importances_mean)
    return np.array(aucs), np.mean(gains, axis=0) if gains else None


def naive(frame, seed=3):
    """Noise without weather: every quantity its month's values at that hour, drawn afresh each hour."""
    rng = np.random.default_rng(seed)
    out = frame.copy()
    for _, rows in frame.groupby(["month", "hour"]).groups.items():
        for name in ("t", "td", "p", "ws", "wd", "gust", "rain"):
            out.loc[rows, name] = frame.loc[rng.choice(np.asarray(rows), len(rows)), name].to_numpy()
    out["td"] = np.minimum(out.td, out.t)
    return out


def main():
    frame = pd.read_csv(sys.argv[1])
    full = "--quick" not in sys.argv
    real_frame = frame[frame.source == "real"].reset_index(drop=True)
    sources = [s for s in frame.source.unique() if s != "real"]
    real = days_of(real_frame)
    sims = [days_of(frame[frame.source == s].reset_index(drop=True)) for s in sources]

    def features(kind, x, month):
        if kind == "hours":
            return raw_features(x, month)
        if kind == "summary":
            return summary_features(x, month)
        return pd.concat([raw_features(x, month), summary_features(x, month)], axis=1)

    print(f"{len(real[1])} real days, {sum(len(s[1]) for s in sims)} simulated days of {len(sims)} years")
    for kind in ("hours", "summary", "both"):
        parts = [features(kind, *real[:2])] + [features(kind, *s[:2]) for s in sims]
        x = pd.concat(parts, ignore_index=True)
        y = np.concatenate([np.ones(len(parts[0])), np.zeros(len(x) - len(parts[0]))])
        block = np.concatenate([real[2]] + [s[2] for s in sims])
        aucs, gains = judge(x.to_numpy(), y, block, importances=kind != "both")
        print(f"AUC real against simulated, {kind:8}: {aucs.mean():.3f} +- {aucs.std(ddof=1) / np.sqrt(len(aucs)):.3f}"
              f"   (folds {' '.join(f'{a:.2f}' for a in aucs)})")
        if gains is None:
            continue
        print(f"  {'most telling':<48}{'loss':>7}   real q10/50/90            simulated q10/50/90      single AUC")
        for i in np.argsort(-gains)[:15]:
            name = x.columns[i]
            column = x[name].to_numpy()
            a, b = column[y == 1], column[y == 0]
            qa, qb = np.nanquantile(a, [0.1, 0.5, 0.9]), np.nanquantile(b, [0.1, 0.5, 0.9])
            ok = np.isfinite(column)
            alone = roc_auc_score(y[ok], column[ok])
            text = lambda q: " ".join(f"{v:8.2f}" for v in q)
            print(f"  {name:<48}{gains[i]:7.4f}{text(qa)}{text(qb)}{alone:9.2f}")
        if kind == "summary":
            for group, words in (("pressure", ("p ", "corr(p", ",p)")), ("gusts", ("gust",)), ("both of these", ("p ", "corr(p", ",p)", "gust"))):
                kept = [c for c in x.columns if not any(c.startswith(w) or w in c and w != "p " for w in words)]
                without, _ = judge(x[kept].to_numpy(), y, block)
                print(f"  AUC without features of {group:<14}: {without.mean():.3f}")
            # Every feature by itself: what differs without any learning.
            singles = []
            for name in x.columns:
                column = x[name].to_numpy()
                ok = np.isfinite(column)
                singles.append((abs(roc_auc_score(y[ok], column[ok]) - 0.5), name))
            print("  furthest apart one by one: " + "; ".join(
                f"{name} {0.5 + d:.2f}" for d, name in sorted(singles, reverse=True)[:20]))
    if not full:
        return

    print("is the judge fair, and can it see (summary features)?")
    halves = [summary_features(*s[:2]) for s in sims]
    x = pd.concat(halves, ignore_index=True)
    year = np.concatenate([[n] * len(h) for n, h in enumerate(halves)])
    block = np.concatenate([s[2] for s in sims])
    # One simulated year against the others: what one real year would score if it came from the same weather.
    scores = [judge(x.to_numpy(), (year == n).astype(float), block, seed=n)[0].mean() for n in range(min(4, len(sims)))]
    print(f"AUC one simulated year against the others   : {np.mean(scores):.3f} +- {np.std(scores):.3f}")
    half = (year < len(sims) // 2).astype(float)
    aucs, _ = judge(x.to_numpy(), half, block)
    print(f"AUC first half of the simulated years, other: {aucs.mean():.3f} +- {aucs.std(ddof=1) / np.sqrt(len(aucs)):.3f}")
    # Ten-day blocks of the real year put into two classes by lot: nothing to learn but the lot.
    xr = summary_features(*real[:2]).to_numpy()
    scores = []
    for n in range(8):
        lot = np.random.default_rng(n).permutation(36) % 2
        scores.append(judge(xr, lot[real[2]].astype(float), real[2], seed=n)[0].mean())
    print(f"AUC real ten-day blocks in two lots         : {np.mean(scores):.3f} +- {np.std(scores) / np.sqrt(8):.3f}")
    fake = days_of(naive(real_frame))
    x = pd.concat([summary_features(*real[:2]), summary_features(*fake[:2])], ignore_index=True)
    y = np.concatenate([np.ones(len(real[1])), np.zeros(len(fake[1]))])
    aucs, _ = judge(x.to_numpy(), y, np.concatenate([real[2], fake[2]]))
    print(f"AUC real against its own hours drawn anew   : {aucs.mean():.3f}")


if __name__ == "__main__":
    main()
