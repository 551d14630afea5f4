"""What the overview asks of the tables that the rules ask, while an audit has them.

Portable SQL, without nulls in what it gives. Names stay numbers; -1 is a missing name.
"""

NULL_SQL = "(CAST(-9223372036854775807 AS BIGINT) - 1)"
"""`daq.audit.layout.NULL`, written so that no engine takes it for too large a number."""

ASKS: dict[str, str] = {
    "sizes": f"""
SELECT (SELECT count(DISTINCT site) FROM (
          SELECT site FROM passes UNION SELECT site FROM gauges) AS places) AS sites,
       (SELECT count(*) FROM runs) AS calibrations,
       coalesce(least(p.first_us, c.first_us), p.first_us, c.first_us, {NULL_SQL}) AS first_us,
       coalesce(greatest(p.last_us, c.last_us), p.last_us, c.last_us, {NULL_SQL}) AS last_us
FROM (SELECT min(first_us) AS first_us, max(last_us) AS last_us FROM passes) AS p,
     (SELECT min(first_us) AS first_us, max(last_us) AS last_us FROM gauge_captures) AS c
""",
    "gauges": f"""
WITH every AS (
  SELECT gauge, site, 1 AS entered FROM gauges UNION ALL
  SELECT gauge, site, 0 FROM passes UNION ALL
  SELECT gauge, CAST(NULL AS BIGINT), 0 FROM gauge_captures
), homes AS (
  SELECT gauge, coalesce(max(CASE WHEN entered = 1 THEN site END), max(site), -1) AS site
  FROM every GROUP BY gauge
)
SELECT h.gauge, h.site, coalesce(r.n, 0) AS calibrations,
       CAST(coalesce(c.n, 0) AS BIGINT) AS captures,
       coalesce(d.due_us, {NULL_SQL}) AS due_us
FROM homes AS h
LEFT JOIN (SELECT gauge, count(*) AS n FROM runs GROUP BY gauge) AS r ON r.gauge = h.gauge
LEFT JOIN (SELECT gauge, sum(captures) AS n FROM gauge_captures GROUP BY gauge) AS c
  ON c.gauge = h.gauge
LEFT JOIN (SELECT gauge, max(due_us) AS due_us FROM calendar WHERE next_us IS NULL GROUP BY gauge)
  AS d ON d.gauge = h.gauge
ORDER BY h.gauge
""",
    "drift": f"""
SELECT s.gauge, CAST(s.passes AS BIGINT) AS passes, s.slope_nm_a_day, s.slope_se,
       CAST(s.dof AS BIGINT) AS dof, s.fitted_nm, s.last_us,
       coalesce(g.limit_nm, {NULL_SQL}) AS limit_nm
FROM series AS s
JOIN (SELECT gauge, max(last_us) AS last_us FROM series GROUP BY gauge) AS newest
  ON newest.gauge = s.gauge AND newest.last_us = s.last_us
LEFT JOIN gauges AS g ON g.gauge = s.gauge
WHERE s.slope_nm_a_day IS NOT NULL AND s.slope_se IS NOT NULL
ORDER BY s.gauge
""",
    "reliability": """
SELECT coalesce(g.kind, '') AS kind, coalesce(g.interval_days, -1) AS interval_days,
       count(*) AS calibrations,
       CAST(sum(CASE WHEN greatest(p.error_high_nm, -p.error_low_nm) <= g.limit_nm
                THEN 1 ELSE 0 END) AS BIGINT) AS within
FROM passes AS p
JOIN calendar AS c ON c.gauge = p.gauge AND c.run = p.run AND NOT c.is_first
JOIN gauges AS g ON g.gauge = p.gauge AND g.limit_nm IS NOT NULL
WHERE p.found = 'as found'
GROUP BY coalesce(g.kind, ''), coalesce(g.interval_days, -1)
""",
}
"""By name of the answer."""
