"""How well does a settler know a rest? Made-up motions with known truth, a scorer, four rivals.

`python -m tests.benchmarks.settling --seed0 9000` prints the table of `docs/settling.md`.
"""
