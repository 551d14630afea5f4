"""Evidence in the codes of a scorer that knows what was planted in a generated log."""

import duckdb

CODES = {
    "R01": "captured-out-of-date",
    "R02": "found-out-of-limits",
    "R03": "drift",
    "R04": "hysteresis",
    "R05": "copied-readings",
    "R06": "uneven-digits",
    "R07": "still-readings",
    "R08": "too-quick",
    "R09": "clock-back",
    "R10": "missing-numbers",
    "R11": "inch-for-mm",
    "R12": "standard-out-of-date",
    "R13": "two-places",
    "R14": "read-nominal",
    "R15": "broken-chain",
    "R17": "shift",
}
CODES = {name: code for code, name in CODES.items()}
"""By rule: the code of the fault that it finds."""


def in_codes(evidence, out):
    """Evidence as the scorer reads it: codes for rules, and a person as the run of R06."""
    cases = " ".join(f"WHEN '{name}' THEN '{code}'" for name, code in CODES.items())
    duckdb.sql(
        f"""COPY (SELECT CASE rule {cases} ELSE rule END AS rule,
          CAST(gauge_id AS BIGINT) AS gauge_id,
          CAST(CASE rule WHEN 'uneven-digits' THEN operator ELSE CAST(run_id AS VARCHAR) END
               AS BIGINT) AS run_id,
          seq_lo, seq_hi, score FROM '{evidence}') TO '{out}' (FORMAT parquet)"""
    )
