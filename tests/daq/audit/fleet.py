"""A small invented fleet, sound to begin with, in which a test plants one fault at a time."""

from dataclasses import dataclass, field

import numpy as np

from daq.audit.layout import FOUND, LARGE, NULL, TABLES, WAYS

DAY = 86_400_000_000
HOUR = 3_600_000_000
BEGIN = 1_514_764_800_000_000  # 2018-01-01, µs
MM = 1_000_000
RUNS, POINTS, CAPTURES = 5, 11, 150
STEP, LIMIT, RANGE = 1_000, 10_000, 12_500_000
EVERY = 180


@dataclass
class Fleet:
    """Tables of the open log format as arrays; names as text."""

    tables: dict[str, dict[str, np.ndarray]] = field(default_factory=dict)
    chain = None

    def __getitem__(self, table):
        return self.tables[table]

    def rows_of(self, table, gauge, run=None):
        """The indices of a gauge's rows, in their order."""
        own = self.tables[table]["gauge"] == gauge
        if run is not None:
            own &= self.tables[table]["run"] == run
        return np.flatnonzero(own)

    def drop(self, table, rows):
        self.tables[table] = {n: np.delete(v, rows) for n, v in self.tables[table].items()}

    def without(self, table, *columns):
        for name in columns:
            del self.tables[table][name]

    # What the audit asks of a source.

    def columns(self, table):
        return tuple(n for n in TABLES[table].names if n in self.tables.get(table, {}))

    def rows(self, table):
        return len(next(iter(self.tables.get(table, {"": []}).values())))

    def identity(self):
        return repr({name: sorted(columns) for name, columns in self.tables.items()})

    def blocks(self, table, columns, gauges_at_once=7, skip=0):
        assert table in LARGE
        whole = self.tables[table]
        gauges = whole["gauge"]
        starts = np.flatnonzero(np.append(True, gauges[1:] != gauges[:-1]))
        for first in range(skip * gauges_at_once, len(starts), gauges_at_once):
            end = starts[first + gauges_at_once] if first + gauges_at_once < len(starts) else None
            part = slice(starts[first], end)
            yield {name: self._coded(table, name)[part] for name in columns}

    def small(self, table):
        return {name: self._coded(table, name) for name in self.columns(table)}

    def names(self, column, codes):
        known = self._known(column)
        return ["" if code == -1 else known[code] for code in codes.tolist()]

    def _known(self, column):
        texts = [set(t[column].tolist()) for t in self.tables.values() if column in t]
        return sorted(set().union(*texts) - {""})

    def _coded(self, table, name):
        values = self.tables[table][name]
        column = TABLES[table].column(name)
        if column.kind == "integer":
            return values.astype(np.int64)
        known = [*column.words] if column.words else self._known(name)
        places = {text: place for place, text in enumerate(known)} | {"": -1}
        return np.array([places[text] for text in values.tolist()], dtype=np.int64)


def fleet(gauges=24, seed=1):
    """Two sites with three people each; gauges that keep their errors, within a third of limits."""
    rng = np.random.default_rng(seed)
    made = Fleet()
    names = np.array([f"G{number:02}" for number in range(gauges)], dtype=object)
    site = np.array([f"site {'AB'[number % 2]}" for number in range(gauges)], dtype=object)
    made.tables["gauges"] = {
        "gauge": names,
        "site": site,
        "kind": np.full(gauges, "indicator", dtype=object),
        "step_nm": np.full(gauges, STEP),
        "range_nm": np.full(gauges, RANGE),
        "limit_nm": np.full(gauges, LIMIT),
        "hysteresis_nm": np.full(gauges, 6_000),
        "interval_days": np.full(gauges, EVERY),
    }
    standards = np.array(["S1", "S1", "S2"], dtype=object)
    made.tables["standards"] = {
        "standard": standards,
        "valid_from_us": np.array([BEGIN - 400 * DAY, BEGIN + 400 * DAY, BEGIN - 400 * DAY]),
        "valid_until_us": np.array([BEGIN + 500 * DAY, BEGIN + 4000 * DAY, BEGIN + 4000 * DAY]),
    }
    made.tables["lengths"] = {
        "standard": np.array(["S1", "S2"], dtype=object),
        "valid_from_us": np.full(2, BEGIN - 400 * DAY),
        "nominal_nm": np.full(2, RANGE),
        "length_nm": np.full(2, RANGE),
        "u_nm": np.full(2, 300),
    }
    points, runs = _points(names, site, rng)
    made.tables["points"] = points
    made.tables["captures"] = _captures(names, site, rng, runs)
    made.tables["calibrations"] = _calibrations(names, site, runs, points)
    made.tables["checks"] = {
        "gauge": names[:1],
        "at_us": np.array([BEGIN + 30 * DAY]),
        "checked": np.array(["held"], dtype=object),
    }
    return made


def run_name(gauge, number):
    return f"{gauge}/{number}"


def _points(names, site, rng):
    many = 2 * POINTS
    rows = len(names) * RUNS * many
    place = np.concatenate([np.arange(POINTS), np.arange(POINTS)[::-1]])
    own = np.repeat(np.arange(len(names)), RUNS * many)
    number = np.tile(np.repeat(np.arange(RUNS), many), len(names))
    x = np.tile(place / (POINTS - 1), len(names) * RUNS)
    begun = BEGIN + (5 + 7 * number + 170 * number - 7 * number) * DAY + (8 + own % 6) * HOUR
    begun += own * 7 * 60_000_000
    apart = rng.integers(8_000_000, 40_000_000, (len(names) * RUNS, many))
    at = begun + np.cumsum(apart, axis=1).ravel()
    nominal = np.rint(x * 10 * MM).astype(np.int64)
    reference = nominal + rng.integers(-400, 400, rows)
    level, slope = rng.normal(0, 800, len(names)), rng.normal(0, 600, len(names))
    error = level[own] + slope[own] * (x - 0.5) + rng.normal(0, 400, rows)
    indicated = np.rint((reference + error) / STEP).astype(np.int64) * STEP
    people = np.array([f"{'ab'[g % 2]}{(g + n) % 3}" for g, n in zip(own, number, strict=True)])
    points = {
        "site": site[own],
        "gauge": names[own],
        "run": np.array([f"{names[g]}/{n}" for g, n in zip(own, number, strict=True)], object),
        "seq": np.tile(np.arange(1, RUNS * many + 1), len(names)),
        "at_us": at,
        "found": np.full(rows, FOUND[0], dtype=object),
        "way": np.tile(np.repeat(np.array(WAYS[:2], dtype=object), POINTS), len(names) * RUNS),
        "nominal_nm": nominal,
        "reference_nm": reference,
        "indicated_nm": indicated,
        "u_reference_nm": np.full(rows, 400),
        "temperature_mc": 20_000 + rng.integers(-500, 500, rows),
        "operator": people.astype(object),
        "standard": np.where(number % 2 == 0, "S1", "S2").astype(object),
        "certified_nm": reference.copy(),
    }
    return points, at.reshape(len(names), RUNS, many)


def _captures(names, site, rng, runs):
    rows = len(names) * CAPTURES
    own = np.repeat(np.arange(len(names)), CAPTURES)
    share = np.tile((np.arange(CAPTURES) + 0.5) / CAPTURES, len(names))
    first, last = runs[:, 0, -1], runs[:, -1, -1] + 100 * DAY
    at = (first[own] + HOUR + share * (last - first)[own]).astype(np.int64)
    for gauge in range(len(names)):  # nobody captures with a gauge that is being calibrated
        for run in runs[gauge]:
            busy = (own == gauge) & (at >= run[0]) & (at <= run[-1])
            at[busy] = run[-1] + HOUR
    place = rng.normal(0, 0.25, rows)
    middle, half = 5 * MM, 50_000
    return {
        "site": site[own],
        "gauge": names[own],
        "seq": np.tile(np.arange(1, CAPTURES + 1), len(names)),
        "at_us": at,
        "job": np.full(rows, "job", dtype=object),
        "feature": np.full(rows, "bore", dtype=object),
        "value_nm": np.rint((middle + place * half) / STEP).astype(np.int64) * STEP,
        "n": np.full(rows, 10),
        "u_nm": np.full(rows, 500),
        "lower_nm": np.full(rows, middle - half),
        "upper_nm": np.full(rows, middle + half),
        "operator": site[own] + " fitter",
        "asked_kind": np.full(rows, "indicator", dtype=object),
        "asked_step_nm": np.full(rows, 10 * STEP),
        "asked_range_nm": np.full(rows, 5 * MM),
    }


def _calibrations(names, site, runs, points):
    own = np.repeat(np.arange(len(names)), RUNS)
    number = np.tile(np.arange(RUNS), len(names))
    rows = len(own)
    error = (points["indicated_nm"] - points["reference_nm"]).reshape(rows, -1)
    most = np.take_along_axis(error, np.abs(error).argmax(axis=1)[:, None], axis=1).ravel()
    ended = runs[:, :, -1].ravel()
    return {
        "site": site[own],
        "gauge": names[own],
        "run": np.array([f"{names[g]}/{n}" for g, n in zip(own, number, strict=True)], object),
        "at_us": ended,
        "ended": np.full(rows, "complete", dtype=object),
        "certificate": np.array([f"C{each}" for each in range(rows)], dtype=object),
        "planned_up": np.full(rows, POINTS),
        "planned_down": np.full(rows, POINTS),
        "planned_repeats": np.full(rows, 0),
        "coldest_mc": np.full(rows, 19_000),
        "warmest_mc": np.full(rows, 21_000),
        "rule": np.full(rows, "simple", dtype=object),
        "limit_nm": np.full(rows, LIMIT),
        "found_error_nm": most,
        "found_expanded_nm": np.full(rows, 1_500),
        "found_word": np.full(rows, "pass", dtype=object),
        "left_error_nm": np.full(rows, NULL),
        "left_expanded_nm": np.full(rows, NULL),
        "left_word": np.full(rows, "", dtype=object),
        "due_us": ended + EVERY * DAY,
        "found_error_word": np.full(rows, "pass", dtype=object),
        "left_error_word": np.full(rows, "", dtype=object),
    }
