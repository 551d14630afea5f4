"""When calibrations were, and the times between them in which captures are counted."""

import numpy as np

from daq.audit.engine.store import KINDS, Store
from daq.audit.kernel import Windows

_EVER, _NEVER = -(2**62), 2**62
_DAY_US = 86_400_000_000

RUNS = """
CREATE TABLE IF NOT EXISTS runs AS
SELECT p.gauge, p.run, min(p.first_us) AS begun_us, max(p.last_us) AS ended_us,
       min(p.seq_lo) AS seq_lo, max(p.seq_hi) AS seq_hi, count(*) AS passes
FROM passes p GROUP BY p.gauge, p.run
"""

CALENDAR = f"""
CREATE TABLE IF NOT EXISTS calendar AS
SELECT r.gauge, r.run, r.begun_us, r.ended_us,
  coalesce(c.due_us, r.ended_us + g.interval_days * {_DAY_US}) AS due_us,
  lag(r.run) OVER w IS NULL AS is_first,
  lead(r.begun_us) OVER w AS next_us,
  coalesce(c.left_word, c.found_word) = 'fail' AS failed
FROM runs r
LEFT JOIN gauges g ON g.gauge = r.gauge
LEFT JOIN (SELECT gauge, run, max(due_us) AS due_us, max(ended) AS ended,
                  max(found_word) AS found_word, max(left_word) AS left_word
           FROM calibrations GROUP BY gauge, run) c
  ON c.gauge = r.gauge AND c.run = r.run
WHERE coalesce(c.ended, 'complete') = 'complete'
WINDOW w AS (PARTITION BY r.gauge ORDER BY r.begun_us, r.run)
"""
# A calibration that was broken off says nothing of the gauge, so it begins no interval.

WINDOWS = f"""
SELECT gauge, {{kind}} AS kind, run, from_us, until_us FROM (
  SELECT gauge, 'overdue' AS what, run, due_us AS from_us, coalesce(next_us, {_NEVER}) AS until_us
  FROM calendar WHERE due_us < coalesce(next_us, {_NEVER})
  UNION ALL
  SELECT gauge, 'before first', run, {_EVER}, begun_us FROM calendar WHERE is_first
  UNION ALL
  SELECT gauge, 'during', run, begun_us, ended_us FROM calendar
  UNION ALL
  SELECT gauge, 'after failed', run, ended_us, coalesce(next_us, {_NEVER})
  FROM calendar WHERE failed
  UNION ALL
  SELECT gauge, 'after doubtful check', -1, at_us, coalesce(held_us, {_NEVER}) FROM (
    SELECT k.gauge, k.at_us, k.checked,
      min(CASE WHEN k.checked = 'held' THEN k.at_us END) OVER (
        PARTITION BY k.gauge ORDER BY k.at_us
        ROWS BETWEEN 1 FOLLOWING AND UNBOUNDED FOLLOWING) AS held_us
    FROM checks k) AS followed
  WHERE checked IN ('moved', 'doubtful')
) AS all_ WHERE from_us IS NOT NULL ORDER BY gauge
"""


def windows_of(store: Store) -> Windows:
    """The times of each gauge that are looked at, from the passes and the small tables.

    Makes the tables ``runs`` and ``calendar``.
    """
    store.run(RUNS)
    store.run(CALENDAR)
    cases = " ".join(f"WHEN '{kind}' THEN {place}" for place, kind in enumerate(KINDS))
    found = store.arrays(WINDOWS.format(kind=f"CAST(CASE what {cases} END AS TINYINT)"))
    return Windows(
        found["gauge"].astype(np.int64, copy=False),
        found["kind"],
        found["run"].astype(np.int64, copy=False),
        found["from_us"],
        found["until_us"],
    )
