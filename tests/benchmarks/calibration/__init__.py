"""Do the intervals that a calibration states cover the truth? Made-up gauges with known errors.

`python -m tests.benchmarks.calibration` simulates 2,000 calibrations of each kind of gauge; with
`--write docs/uncertainty.md` the table goes into the documentation. `test_coverage_short_form.py`
holds a shorter run to bounds.
"""
