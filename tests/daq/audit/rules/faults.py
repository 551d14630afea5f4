"""A fault for each rule: what is done to a sound fleet, and what the rule must then name."""

import numpy as np

from daq.audit.layout import NULL
from tests.daq.audit.fleet import BEGIN, DAY, HOUR, LIMIT, MM, STEP, run_name

GAUGE = "G05"
RUN = run_name(GAUGE, 2)


def rows(made, run=RUN):
    return made.rows_of("points", run.split("/")[0], run)


def caps(made, first, many):
    return made.rows_of("captures", GAUGE)[first : first + many]


def captured_out_of_date(made):
    made.drop("points", rows(made))
    keep = made["calibrations"]["run"] != RUN
    made.tables["calibrations"] = {n: v[keep] for n, v in made["calibrations"].items()}
    own = made.rows_of("points", GAUGE)
    made["points"]["seq"][own] = np.arange(1, len(own) + 1)


def found_out_of_limits(made):
    made["points"]["indicated_nm"][rows(made)] += 2 * LIMIT


def drift(made):
    for number in range(5):
        made["points"]["indicated_nm"][rows(made, run_name(GAUGE, number))] += number * 1_500


def hysteresis(made):
    own = rows(made)
    made["points"]["indicated_nm"][own[:11]] += 9 * STEP


def copied_readings(made):
    other = rows(made, run_name("G09", 1))
    for name in ("reference_nm", "indicated_nm"):
        made["points"][name][rows(made)] = made["points"][name][other]


def uneven_digits(made):
    own = made["points"]["operator"] == "b1"
    value = made["points"]["indicated_nm"]
    value[own] = np.rint(value[own] / (5 * STEP)).astype(np.int64) * 5 * STEP


def still_readings(made):
    own = caps(made, 40, 12)
    made["captures"]["value_nm"][own] = made["captures"]["value_nm"][own[0]]


def too_quick(made):
    own = rows(made)
    made["points"]["at_us"][own] = made["points"]["at_us"][own[0]] + np.arange(len(own)) * 200_000


def clock_back(made):
    made["points"]["at_us"][rows(made)[9:]] -= HOUR


def missing_numbers(made):
    made.drop("points", rows(made)[5:8])


def out_of_order(made):
    own = rows(made)
    made["points"]["seq"][own[3]] = made["points"]["seq"][own[2]]


def inch_for_mm(made):
    value = made["points"]["indicated_nm"]
    value[rows(made)] = np.rint(value[rows(made)] / 25.4).astype(np.int64)


def standard_out_of_date(made):
    until = made["standards"]["valid_until_us"]
    until[made["standards"]["standard"] == "S1"] = made["points"]["at_us"][rows(made)[0]]


def two_places(made):
    other = rows(made, run_name("G06", 2))
    made["points"]["operator"][rows(made)] = made["points"]["operator"][other[0]]
    spread = made["points"]["at_us"][rows(made)] - made["points"]["at_us"][rows(made)[0]]
    made["points"]["at_us"][rows(made)] = made["points"]["at_us"][other[0]] + 1 + spread


def read_nominal(made):
    own = rows(made)
    made["points"]["reference_nm"][own] += 3 * STEP
    made["points"]["indicated_nm"][own] = made["points"]["nominal_nm"][own]


def shift(made):
    made["captures"]["value_nm"][caps(made, 60, 50)] += 40_000


def errors_never_move(made):
    pattern = (np.arange(22) % 6) * STEP
    for number in (1, 2, 3):
        own = rows(made, run_name(GAUGE, number))
        made["points"]["indicated_nm"][own] = made["points"]["reference_nm"][own] + pattern


def found_is_left(made):
    error = (np.arange(11) % 6) * STEP
    own = rows(made)
    points = made["points"]
    points["found"][own[11:]] = "as left"
    points["nominal_nm"][own[11:]] = points["nominal_nm"][own[:11]]
    points["reference_nm"][own[11:]] = points["reference_nm"][own[:11]]
    points["indicated_nm"][own] = points["reference_nm"][own] + np.tile(error, 2)


def crowding(made):
    points = made["points"]
    for gauge in range(1, 24, 2):
        for number in range(5):
            own = rows(made, run_name(f"G{gauge:02}", number))
            points["indicated_nm"][own] = points["reference_nm"][own]
            points["indicated_nm"][own[0]] += 9_700


def missing_points(made):
    made["calibrations"]["planned_up"][made["calibrations"]["run"] == RUN] = 12


def one_way_only(made):
    made["points"]["way"][rows(made)] = "up"


def no_uncertainty(made):
    made["points"]["u_reference_nm"][rows(made)[4]] = NULL


def better_than_standard(made):
    made["points"]["u_reference_nm"][rows(made)] = 100


def decision_not_following(made):
    here = made["calibrations"]["run"] == RUN
    made["calibrations"]["found_error_nm"][here] = LIMIT + 1


def too_warm_or_cold(made):
    made["points"]["temperature_mc"][rows(made)[3]] = 25_000


def reference_not_certified(made):
    made["points"]["reference_nm"][rows(made)[3]] += 200


def not_what_was_asked(made):
    made["captures"]["asked_kind"][caps(made, 20, 30)] = "depth gauge"


def out_of_range(made):
    made["gauges"]["kind"][made["gauges"]["gauge"] == GAUGE] = "depth gauge"
    made["captures"]["value_nm"][caps(made, 20, 3)] += 10 * MM


def copied_part(made):
    other = rows(made, run_name("G09", 1))[3:12]
    for name in ("reference_nm", "indicated_nm"):
        made["points"][name][rows(made)[5:14]] = made["points"][name][other]


def captured_at_two_places(made):
    here = made["captures"]["at_us"]
    away = made.rows_of("captures", "G06")[40]
    own = caps(made, 40, 1)
    here[own] = here[away] + 60_000_000
    made["captures"]["operator"][own] = made["captures"]["operator"][away]


def too_coarse(made):
    made["gauges"]["step_nm"][made["gauges"]["gauge"] == GAUGE] = 50_000


def captured_after_doubt(made):
    made.tables["checks"] = {
        "gauge": np.array([GAUGE, GAUGE], dtype=object),
        "at_us": np.array([BEGIN + 300 * DAY, BEGIN + 310 * DAY]),
        "checked": np.array(["moved", "held"], dtype=object),
    }


def captured_after_fail(made):
    here = made["calibrations"]["run"] == RUN
    made["calibrations"]["found_word"][here] = "fail"


def captured_before_first(made):
    made["captures"]["at_us"][caps(made, 0, 2)] = BEGIN + np.array([HOUR, 2 * HOUR])


def two_things_at_once(made):
    at = made["points"]["at_us"][rows(made)[:8]]
    times = made["captures"]["at_us"]
    own = made.rows_of("captures", GAUGE)
    first = np.searchsorted(times[own], at[0])
    times[own[first : first + 8]] = at


def odd_hours(made):
    made["points"]["at_us"][rows(made)] -= 12 * HOUR


def certificate_without_record(made):
    made["calibrations"]["run"][made["calibrations"]["run"] == RUN] = "another"


def record_without_certificate(made):
    made["calibrations"]["certificate"][made["calibrations"]["run"] == RUN] = ""


def unknown_gauge(made):
    made["gauges"]["gauge"][made["gauges"]["gauge"] == GAUGE] = "somewhere else"


def unknown_standard(made):
    made["points"]["standard"][rows(made)] = "S9"


def changing_hands(made):
    made["points"]["operator"][rows(made)[12:]] = "another"


FAULTS = {
    name.replace("_", "-"): plant
    for name, plant in list(globals().items())
    if callable(plant) and getattr(plant, "__code__", None) and name not in ("rows", "caps")
    if name != "run_name"
}
ABOUT_PEOPLE = {"uneven-digits": ("operator", "b1"), "crowding": ("site", "site B")}
"""Rules whose findings name no gauge: the column that names it instead, and the name."""
