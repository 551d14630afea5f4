"""The same audit as somebody writes it who knows pandas well: the peer that ours is held against.

    PYTHON by_pandas.py FOLDER EVIDENCE.parquet

Reads a generated log, looks for each kind of planted fault, works out the impact, writes evidence
in the scorer's columns, and prints the CPU seconds of every step as JSON. Vectorised throughout,
but for the hash of a row and the few gauges found bad. Needs pandas with pyarrow, and none of the
rest of this project.
"""

import hashlib
import json
import resource
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

DAY = pd.Timedelta(days=1)
COLUMNS = ["rule", "gauge_id", "run_id", "seq_lo", "seq_hi", "score"]
RUN = ["gauge_id", "run_id"]
PASS = ["gauge_id", "run_id", "left"]


class Peer:
    def __init__(self, folder):
        self.folder = Path(folder)
        self.found = []
        self.seconds = {}

    def step(self, work):
        began_s = time.process_time()
        work()
        self.seconds[work.__name__] = time.process_time() - began_s

    def tell(self, rule, rows):
        """Evidence; columns that are not there are empty."""
        self.found.append(rows.assign(rule=rule).reindex(columns=COLUMNS))

    def of_passes(self, rule, which, score):
        self.tell(rule, self.passes[which].assign(score=score[which]))

    def reading(self):
        asked = {
            "calib": [
                "gauge_id", "run_id", "seq", "ts", "nominal", "dir", "ref", "ind", "u_ref",
                "operator", "lab", "std_id", "state", "prev_hash",
            ],
            "caps": ["gauge_id", "seq", "ts", "value", "u", "lsl", "usl"],
        }  # fmt: skip
        self.points = pd.read_parquet(self.folder / "calib", columns=asked["calib"])
        self.captures = pd.read_parquet(self.folder / "caps", columns=asked["caps"])
        self.gauges = pd.read_parquet(self.folder / "gauges.parquet").set_index("gauge_id")
        self.certs = pd.read_parquet(self.folder / "certs.parquet")

    def sorting(self):
        self.points = self.points.sort_values(["gauge_id", "seq"], ignore_index=True)
        self.captures = self.captures.sort_values(["gauge_id", "seq"], ignore_index=True)

    def summing(self):
        """What several rules ask: errors, and a row for every pass up and down."""
        points = self.points
        points["left"] = points["state"] == "as_left"
        points["up"] = points["dir"] == "up"
        points["error"] = points["ind"] - points["ref"]
        points["of_up"] = points["error"].where(points["up"])
        points["of_down"] = points["error"].where(~points["up"])
        points["rr"] = points["ref"] * points["ref"]
        points["ri"] = points["ref"] * points["ind"]
        points["moved"] = (points["ref"] - points["nominal"]).abs()
        points["is_nominal"] = points["ind"] == points["nominal"]
        passes = points.groupby(PASS, sort=False).agg(
            seq_lo=("seq", "min"), seq_hi=("seq", "max"), first=("ts", "min"), last=("ts", "max"),
            points=("seq", "size"), error=("error", "mean"), most=("error", "max"),
            least=("error", "min"), up=("of_up", "mean"), down=("of_down", "mean"),
            rr=("rr", "sum"), ri=("ri", "sum"), moved=("moved", "mean"),
            nominal=("is_nominal", "sum"), u_ref=("u_ref", "max"), operator=("operator", "first"),
            lab=("lab", "first"), std_id=("std_id", "first"),
        )  # fmt: skip
        self.passes = passes.reset_index().join(self.gauges.drop(columns="lab"), on="gauge_id")
        self.passes["ratio"] = self.passes["ri"] / self.passes["rr"]
        self.is_inch = (self.passes["ratio"] * 25.4 - 1).abs() < 0.02
        whole = self.passes.groupby(RUN, sort=False).agg(
            first=("first", "min"), last=("last", "max"), operator=("operator", "first"),
            lab=("lab", "first"), std_id=("std_id", "first"), interval=("interval_days", "first"),
        )  # fmt: skip
        self.runs = whole.reset_index()

    def overdue(self):
        captures = self.captures[["gauge_id", "seq", "ts"]].sort_values("ts")
        runs = self.runs[[*RUN, "first", "last", "interval"]].sort_values("last")
        near = pd.merge_asof(captures, runs, left_on="ts", right_on="last", by="gauge_id")
        due = near["first"] + pd.to_timedelta(near["interval"] + 1, unit="D")
        late = near[near["ts"] > due].groupby(RUN, as_index=False)
        found = late["seq"].agg(seq_lo="min", seq_hi="max", score="size")
        self.tell("R01", found)

    def out_of_limits(self):
        passes = self.passes
        self.worst = np.maximum(passes["most"], -passes["least"])
        self.bad = ~passes["left"] & (self.worst > passes["mpe"] + 2 * passes["u_ref"])
        self.of_passes("R02", self.bad, self.worst)

    def drifting(self):
        found = self.passes[~self.passes["left"]]
        x = (found["first"] - found["first"].min()) / DAY
        sums = pd.DataFrame(
            {
                "gauge_id": found["gauge_id"], "n": 1, "x": x, "y": found["error"], "xx": x * x,
                "xy": x * found["error"], "yy": found["error"] ** 2, "last": x,
            }
        ).groupby("gauge_id")  # fmt: skip
        s, last = sums.sum(), sums["last"].max()
        sxx, sxy = s["xx"] - s["x"] ** 2 / s["n"], s["xy"] - s["x"] * s["y"] / s["n"]
        syy = s["yy"] - s["y"] ** 2 / s["n"]
        slope = sxy / sxx
        rest = (syy - slope * sxy).clip(lower=0) / (s["n"] - 2)
        t = slope / np.sqrt(rest / sxx)
        now = s["y"] / s["n"] + slope * (last - s["x"] / s["n"])
        gauges = self.gauges.loc[s.index]
        days = (gauges["mpe"] - np.sign(slope) * now) / slope.abs()
        which = (s["n"] >= 6) & (t.abs() > 20) & (days < 6 * gauges["interval_days"])
        slopes = slope[which] * 365.25
        self.tell("R03", pd.DataFrame({"gauge_id": slopes.index, "score": slopes.to_numpy()}))

    def hysteresis(self):
        width = (self.passes["up"] - self.passes["down"]).abs()
        self.of_passes("R04", width > 0.5 * self.passes["mpe"], width)

    def copied(self):
        points = self.points
        place = points.groupby(PASS, sort=False).cumcount().astype("uint64")
        content = pd.util.hash_pandas_object(points[["ref", "ind"]], index=False) * (2 * place + 1)
        references = pd.util.hash_pandas_object(points["ref"], index=False) * (2 * place + 1)
        hashed = points[PASS].assign(content=content, references=references)
        passes = self.passes.merge(
            hashed.groupby(PASS, sort=False)[["content", "references"]].sum().reset_index(), on=PASS
        )
        alike = passes.groupby("content")["run_id"]
        many = alike.transform("size")
        other = passes.groupby("references")["run_id"].transform("size")
        of_gauge = passes.groupby("gauge_id")["references"]
        kinds = of_gauge.transform("nunique")
        varies = (kinds >= 3) & (kinds >= 0.6 * of_gauge.transform("size"))
        doubled = passes[(many > 1) & (other == many) & varies].sort_values("first")
        later = doubled[doubled.duplicated("content")]
        self.tell("R05", later.assign(score=later["points"]))

    def digits(self):
        points = self.points
        fine = points["gauge_id"].map(self.gauges["res"] <= 0.001) & ~points["left"]
        of = points.loc[fine, ["lab", "operator"]]
        of["digit"] = np.rint(points.loc[fine, "ind"] * 1000).astype("int64") % 10
        counts = of.groupby(["lab", "operator", "digit"]).size().unstack(fill_value=0)
        others = counts.groupby("lab").transform("sum") - counts
        shares = (others + 1).div((others + 1).sum(axis=1), axis=0)
        total = counts.sum(axis=1)
        expected = shares.mul(total, axis=0)
        statistic = ((counts - expected) ** 2 / expected).sum(axis=1)
        more = counts[[0, 5]].sum(axis=1) / total - shares[[0, 5]].sum(axis=1)
        which = (total >= 500) & (statistic > 80) & (more > 0.15)
        operators = counts.index.get_level_values("operator")[which]
        self.tell("R06", pd.DataFrame({"run_id": operators, "score": statistic[which].to_numpy()}))

    def stuck(self):
        captures = self.captures
        gauge, value = captures["gauge_id"], captures["value"]
        same = (gauge == gauge.shift()) & (value == value.shift())
        stretch = captures.assign(stretch=(~same).cumsum()).groupby("stretch", sort=False)
        runs = stretch.agg(
            gauge_id=("gauge_id", "first"), seq_lo=("seq", "min"), seq_hi=("seq", "max"),
            score=("seq", "size"),
        )  # fmt: skip
        of = runs.groupby("gauge_id")["score"]
        longest, all_, changes = of.transform("max"), of.transform("sum"), of.transform("size")
        share = (all_ - changes - longest + 2).clip(lower=1) / (all_ - longest + 2)
        chance = share ** (runs["score"] - 1) * len(captures)
        self.tell("R07", runs[(runs["score"] >= 6) & (chance < 1e-3)])

    def gaps_and_clock(self):
        for points in (True, False):
            rows = self.points if points else self.captures
            same = rows["gauge_id"] == rows["gauge_id"].shift()
            step, pace = rows["seq"].diff(), rows["ts"].diff()
            gap = rows[same & (step > 1)]
            lost = step[gap.index].astype("int64")
            gap = gap.assign(seq_lo=gap["seq"] - lost + 1, seq_hi=gap["seq"] - 1, score=lost - 1)
            self.tell("R10", gap)
            back = rows[same & (pace < pd.Timedelta(0))]
            self.tell("R09", back.assign(seq_lo=back["seq"], seq_hi=back["seq"], score=1))
            if points:
                quick = same & (pace >= pd.Timedelta(0)) & (pace < pd.Timedelta(seconds=1))
                passes = rows[quick].groupby(RUN, as_index=False)["seq"]
                count = passes.agg(seq_lo="min", seq_hi="max", score="size")
                self.tell("R08", count[count["score"] >= 5])

    def inches(self):
        self.of_passes("R11", self.is_inch, self.passes["ratio"])
        captures = self.captures
        middle = (captures["lsl"] + captures["usl"]) / 2
        wide = 3 * (captures["usl"] - captures["lsl"])
        scaled = ((captures["value"] * 25.4 - middle).abs() < wide) & (
            (captures["value"] - middle).abs() > wide
        )
        gauge = captures["gauge_id"]
        starts = scaled & ~(scaled.shift(fill_value=False) & (gauge == gauge.shift()))
        hits = captures[scaled].assign(stretch=starts.cumsum()[scaled]).groupby("stretch")
        runs = hits.agg(
            gauge_id=("gauge_id", "first"), seq_lo=("seq", "min"), seq_hi=("seq", "max"),
            score=("seq", "size"),
        )  # fmt: skip
        self.tell("R11", runs[runs["score"] >= 2])

    def out_of_date_standards(self):
        runs = self.runs.merge(self.certs, on="std_id", how="left")
        holds = (runs["first"] >= runs["valid_from"]) & (runs["first"] < runs["valid_until"])
        good = holds.groupby([runs["gauge_id"], runs["run_id"]]).any()
        bad = good[~good].reset_index()[RUN].merge(self.runs, on=RUN)
        self.tell("R12", bad.assign(score=1))

    def two_places(self):
        runs = self.runs.sort_values(["operator", "first"])
        before = runs.shift()
        which = (
            (runs["operator"] == before["operator"])
            & (runs["lab"] != before["lab"])
            & (runs["first"] - before["last"] < pd.Timedelta(minutes=20))
        )
        self.tell("R13", runs[which].assign(score=1))

    def nominals(self):
        passes = self.passes
        which = (
            (passes["nominal"] == passes["points"])
            & (passes["points"] >= 10)
            & (passes["moved"] > passes["res"])
        )
        self.of_passes("R14", which, passes["points"])

    def chain(self):
        points = self.points
        rows = zip(
            points["gauge_id"].tolist(), points["seq"].tolist(), points["run_id"].tolist(),
            points["ts"].astype("datetime64[us]").astype("int64").tolist(),
            *(np.rint(points[c] * 1e6).astype("int64").tolist() for c in ("nominal", "ref", "ind")),
            points["prev_hash"].tolist(),
            strict=True,
        )  # fmt: skip
        sha256 = hashlib.sha256
        tips = [
            sha256(f"{g}|{s}|{r}|{t}|{nominal}|{ref}|{ind}|{link}".encode()).hexdigest()[:16]
            for g, s, r, t, nominal, ref, ind, link in rows
        ]
        points["due"] = pd.Series(tips, dtype=points["prev_hash"].dtype).shift()
        same = points["gauge_id"] == points["gauge_id"].shift()
        begins = ~same & (points["seq"] == 1) & (points["prev_hash"] != "0" * 16)
        broken = points[begins | (same & (points["prev_hash"] != points["due"]))]
        before = points["seq"].shift()[broken.index].fillna(1).astype("int64")
        self.tell("R15", broken.assign(seq_lo=before, seq_hi=broken["seq"], score=1))

    def impact(self):
        """For each run out of limits, the captures since the run before, with its error off."""
        bad = self.passes[self.bad & ~self.is_inch]
        gauges = set(bad["gauge_id"])
        points = dict(iter(self.points[self.points["gauge_id"].isin(gauges)].groupby("gauge_id")))
        captures = self.captures[self.captures["gauge_id"].isin(gauges)]
        captures = dict(iter(captures.groupby("gauge_id")))
        for gauge, run, first in bad[["gauge_id", "run_id", "first"]].itertuples(index=False):
            theirs = points[gauge]
            earlier = theirs[(theirs["ts"] < first) & (theirs["run_id"] != run)]
            since = earlier["ts"].max()
            found = theirs[(theirs["run_id"] == run) & ~theirs["left"]]
            ways = found.groupby(["nominal", "dir"])["error"].mean().groupby("nominal").mean()
            taken = captures[gauge]
            if not pd.isna(since):
                taken = taken[(taken["ts"] > since) & (taken["ts"] <= first)]
            value, low, high = taken["value"], taken["lsl"], taken["usl"]
            right = value - np.interp(value, ways.index, ways.to_numpy())
            flips = value.between(low, high) != right.between(low, high)
            seq = taken.loc[flips, "seq"]
            rows = {"gauge_id": gauge, "seq_lo": seq, "seq_hi": seq, "score": right[flips]}
            self.tell("R16", pd.DataFrame(rows))

    def shifts(self):
        captures = self.captures
        by = captures.groupby("gauge_id", sort=False)["value"]
        off = captures["value"] - by.transform("median")
        spread = off.abs().groupby(captures["gauge_id"], sort=False).transform("median") * 1.4826
        step = captures["gauge_id"].map(self.gauges["res"]).to_numpy()
        z = off / np.maximum(spread, 0.6 * step)
        mean = z.groupby(captures["gauge_id"], sort=False).rolling(30).mean().to_numpy()
        hits = captures[np.abs(mean) > 1.5].assign(z=mean[np.abs(mean) > 1.5])
        shift = hits.groupby("gauge_id", as_index=False)
        found = shift.agg(seq_lo=("seq", "min"), seq_hi=("seq", "max"), score=("z", "max"))
        self.tell("R17", found.assign(seq_lo=found["seq_lo"] - 29))

    def reliability(self):
        found = self.passes[~self.passes["left"]]
        within = (self.worst[found.index] <= found["mpe"]).groupby(found["interval_days"]).mean()
        self.reliable = within.to_dict()

    def writing(self):
        rows = pd.concat([each for each in self.found if len(each)], ignore_index=True)
        whole = dict.fromkeys(COLUMNS[1:5], "Int64")
        rows.astype({**whole, "score": "float64"}).to_parquet(sys.argv[2])
        self.evidence = len(rows)


STEPS = (
    "reading", "sorting", "summing", "overdue", "out_of_limits", "drifting", "hysteresis", "copied",
    "digits", "stuck", "gaps_and_clock", "inches", "out_of_date_standards", "two_places",
    "nominals", "chain", "impact", "shifts", "reliability", "writing",
)  # fmt: skip


def main():
    peer = Peer(sys.argv[1])
    for name in STEPS:
        peer.step(getattr(peer, name))
    told = {
        "cpu_s": sum(peer.seconds.values()),
        "steps": {name: round(took_s, 3) for name, took_s in peer.seconds.items()},
        "rows": len(peer.points) + len(peer.captures),
        "evidence": peer.evidence,
        "peak_gb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2,
        "pandas": pd.__version__,
    }
    print(json.dumps(told))


if __name__ == "__main__":
    main()
