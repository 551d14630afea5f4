"""Reference lengths held against certificates, by the certificate that was in force."""

import numpy as np

from daq.audit.kernel import Certified
from daq.audit.layout import NULL

MM, DAY = 1_000_000, 86_400_000_000
S1, S2 = 41, 17


def certified(lengths, ends=()):
    """Lengths ``(standard, from_day, nominal_mm, off_nm)``, ends ``(standard, from, until)``."""
    table = np.array(lengths, dtype=np.int64).reshape(-1, 4)
    dates = np.array(ends, dtype=np.int64).reshape(-1, 3)
    return Certified.of(
        {
            "standard": table[:, 0],
            "valid_from_us": table[:, 1] * DAY,
            "nominal_nm": table[:, 2] * MM,
            "length_nm": table[:, 2] * MM + table[:, 3],
        },
        {
            "standard": dates[:, 0],
            "valid_from_us": dates[:, 1] * DAY,
            "valid_until_us": dates[:, 2] * DAY,
        },
    )


def told(known, points):
    """Points ``(pass, standard, day, nominal_mm, off_nm)``: certified and most off, by pass."""
    table = np.array(points, dtype=np.int64)
    starts = np.flatnonzero(np.append(True, np.diff(table[:, 0]) != 0))
    block = {
        "gauge": np.zeros(len(table), dtype=np.int64),
        "standard": table[:, 1],
        "at_us": table[:, 2] * DAY,
        "nominal_nm": table[:, 3] * MM,
        "reference_nm": table[:, 3] * MM + table[:, 4],
    }
    found = known.held(block, starts, np.diff(np.append(starts, len(table))))
    return list(zip(found["certified"].tolist(), found["off_certified_nm"].tolist(), strict=True))


def test_the_largest_difference_of_a_pass_is_told_and_what_is_on_no_certificate_is_not():
    known = certified([(S1, 0, 5, 30), (S1, 0, 10, -20), (S2, 0, 5, 0)])
    points = [(0, S1, 1, 5, 30), (0, S1, 1, 7, 999), (0, S1, 1, 10, 100), (1, S2, 1, 10, 5)]
    assert told(known, points) == [(2, 120), (0, NULL)]


def test_a_pass_is_held_against_the_certificate_in_force_when_it_began():
    known = certified(
        [(S1, 0, 5, 0), (S1, 100, 5, 200), (S2, 0, 5, 7)], [(S1, 0, 100), (S1, 100, 200)]
    )
    points = [(0, S1, 50, 5, 0), (1, S1, 150, 5, 0), (2, S1, 250, 5, 0), (3, S2, 9999, 5, 0)]
    assert told(known, points) == [(1, 0), (1, 200), (0, NULL), (1, 7)]


def test_where_two_certificates_are_in_force_either_length_will_do():
    known = certified(
        [(S1, 0, 5, 0), (S1, 0, 6, 50), (S1, 90, 5, 200), (S1, 90, 7, 0)],
        [(S1, 0, 100), (S1, 90, 200)],
    )
    points = [(0, S1, 95, 5, 0), (1, S1, 95, 5, 200), (2, S1, 95, 5, 120)]
    points += [(3, S1, 95, 6, 0), (3, S1, 95, 7, 9), (4, S1, 50, 7, 0)]
    assert told(known, points) == [(1, 0), (1, 0), (1, 80), (2, 50), (0, NULL)]


def test_of_two_entries_of_one_certificate_the_last_counts():
    known = certified([(S1, 0, 5, 900), (S2, 0, 5, 3), (S1, 0, 5, 10)])
    assert told(known, [(0, S1, 1, 5, 10)]) == [(1, 0)]


def test_a_log_without_certified_lengths_is_told_nothing():
    known = Certified.of({}, {})
    assert told(known, [(0, S1, 1, 5, 10), (1, S1, 1, 5, 10)]) == [(0, NULL), (0, NULL)]


def test_a_standard_that_is_not_entered_is_told_nothing_wherever_its_number_lies():
    known = certified([(S1, 0, 5, 0)])
    for other in (S1 - 1, S1 + 1, -1):
        assert told(known, [(0, other, 1, 5, 10), (1, S1, 1, 5, 4)]) == [(0, NULL), (1, 4)]
