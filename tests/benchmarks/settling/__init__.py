"""How well does a settler know a rest? Made-up motions with known truth, a scorer, four rivals.

`python -m tests.benchmarks.settling --seed0 9000` prints the tables; with `--write docs/settling.md
--plots docs/pictures` they go into the documentation. `test_short_form.py` holds the settler to
bounds on a few fixed seeds.
"""
