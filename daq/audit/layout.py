"""The open log format, version 1, as data: every table, column, type, unit and meaning.

Times are whole microseconds since 1970-01-01 UTC, lengths whole nanometres, temperatures whole
thousandths of a degree Celsius: integers, so that every engine reads the same. Names are text. A
table may be spread over any number of files in any of the `FORMATS`; a file's rows are in the order
of `Table.order`. ``docs/log-format.md`` is checked against this module.

A column that is not ``needed`` may be missing from a file, and a table that is not there is not an
error: a rule that needs it says that it was not run. ``nullable`` says whether a value may be
missing from a row; in an array that is `NULL` for an integer and empty for text.
"""

from typing import Final, Literal, NamedTuple

VERSION: Final = 1
"""Stands in every manifest and schema file. A column added at the end of a table does not change
it; a column whose meaning, unit or type changes does."""

FORMATS: Final = ("parquet", "csv", "jsonl")

NULL: Final = -(2**63)
"""What stands for a missing value where an integer has no other way to be missing: the least 64-bit
integer. In files a missing value is a null (Parquet, JSON) or an empty cell (CSV)."""

Kind = Literal["text", "integer"]

FOUND: Final = ("as found", "as left")
WAYS: Final = ("up", "down", "repeat")
OUTCOMES: Final = ("in", "low", "high", "too close to call", "")
WORDS: Final = ("pass", "conditional pass", "conditional fail", "fail", "not judged", "")
ENDS: Final = ("complete", "broken off")
CHECKED: Final = ("held", "moved", "doubtful")
KINDS_OF_GAUGE: Final = ("indicator", "depth gauge", "probe", "")


class Column(NamedTuple):
    """A column of a table.

    ``unit`` is empty for text and counts; ``needed``: the table cannot be read without it;
    ``nullable``: a row may have no value; ``words``: the only texts allowed, or empty for any.
    """

    name: str
    kind: Kind
    unit: str
    meaning: str
    needed: bool = False
    nullable: bool = False
    words: tuple[str, ...] = ()


class Table(NamedTuple):
    """A table: what one row is, the columns in order, and by which columns its rows are sorted."""

    name: str
    meaning: str
    columns: tuple[Column, ...]
    order: tuple[str, ...]

    def column(self, name: str) -> Column:
        """The column of that name; KeyError if there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"{self.name} has no column {name}")

    @property
    def names(self) -> tuple[str, ...]:
        """The names of all columns, in order."""
        return tuple(column.name for column in self.columns)

    @property
    def needed(self) -> tuple[str, ...]:
        """The names of the columns without which the table cannot be read."""
        return tuple(column.name for column in self.columns if column.needed)


def _text(name: str, meaning: str, *, needed: bool = False, words: tuple[str, ...] = ()) -> Column:
    return Column(name, "text", "", meaning, needed=needed, nullable=not needed, words=words)


def _count(name: str, meaning: str, *, needed: bool = False) -> Column:
    return Column(name, "integer", "", meaning, needed=needed, nullable=not needed)


def _us(name: str, meaning: str, *, needed: bool = False) -> Column:
    return Column(name, "integer", "µs", meaning, needed=needed, nullable=not needed)


def _nm(name: str, meaning: str, *, needed: bool = False) -> Column:
    return Column(name, "integer", "nm", meaning, needed=needed, nullable=not needed)


def _mc(name: str, meaning: str) -> Column:
    return Column(name, "integer", "m°C", meaning, nullable=True)


_SITE = _text("site", "the bench, laboratory or works it was done at")
_GAUGE = _text("gauge", "the gauge, by a name that is its own in the whole fleet", needed=True)
_SEQ = _count("seq", "number of the row within its gauge, counted up by 1", needed=True)
_AT = _us("at_us", "when it was taken", needed=True)
_OPERATOR = _text("operator", "who was at it")
_LINK = _text("link", "link of the chain the row was committed in; empty if there is none")

POINTS: Final = Table(
    "points",
    "a point of a calibration: what a gauge read at a known length",
    (
        _SITE,
        _GAUGE,
        _text("run", "the calibration it belongs to", needed=True),
        _SEQ,
        _AT,
        _text("found", "before or after any adjustment", words=FOUND),
        _text("way", "which way the spindle came, or a repeated point", words=WAYS),
        _nm("nominal_nm", "the length that was asked for", needed=True),
        _nm("reference_nm", "the length there was, by the standard's certificate", needed=True),
        _nm("indicated_nm", "what the gauge read", needed=True),
        _nm("u_reference_nm", "standard uncertainty (k = 1) of the reference length"),
        _mc("temperature_mc", "temperature of gauge and standard"),
        _OPERATOR,
        _text("standard", "the standard it was held against"),
        _LINK,
        _nm("certified_nm", "the length there was, worked out anew from the register"),
    ),
    ("gauge", "seq"),
)

CAPTURES: Final = Table(
    "captures",
    "a settled value that somebody chose to keep",
    (
        _SITE,
        _GAUGE,
        _SEQ,
        _AT,
        _text("job", "the job or customer document it belongs to; empty if none"),
        _text("feature", "what was measured within the job; empty if none"),
        _nm("value_nm", "the settled length", needed=True),
        _count("n", "readings averaged"),
        _nm("u_nm", "standard uncertainty (k = 1) of the value"),
        _nm("lower_nm", "lower limit, on the scale of the value; missing if there is none"),
        _nm("upper_nm", "upper limit, on the scale of the value; missing if there is none"),
        _OPERATOR,
        _LINK,
        _nm("resolution_nm", "the step the gauge counted in"),
        _text("role", "the part that the gauge has in the work; empty if it has none"),
        _text("outcome", "the verdict as it was given; empty if none", words=OUTCOMES),
        _text("asked_kind", "the kind of gauge that the work asks for", words=KINDS_OF_GAUGE),
        _nm("asked_step_nm", "the coarsest step that the work allows"),
        _nm("asked_range_nm", "the least range that the work asks for"),
    ),
    ("gauge", "seq"),
)

GAUGES: Final = Table(
    "gauges",
    "a gauge and what it may err; of several rows of a gauge the last counts",
    (
        _GAUGE,
        _SITE,
        _text("kind", "what kind of gauge it is", words=KINDS_OF_GAUGE),
        _nm("step_nm", "its resolution"),
        _nm("range_nm", "its range"),
        _nm("limit_nm", "permissible error over the range"),
        _nm("hysteresis_nm", "permissible difference between up and down; missing if none"),
        _count("interval_days", "days from one calibration to the next"),
        _text("identity", "identity of its adapter; empty if it has none"),
        _us("at_us", "when it was entered"),
    ),
    ("gauge",),
)

STANDARDS: Final = Table(
    "standards",
    "a certificate of a reference standard; a standard has a row for each",
    (
        _text("standard", "the standard", needed=True),
        _us("valid_from_us", "the first moment the certificate holds", needed=True),
        _us("valid_until_us", "the first moment it no longer holds", needed=True),
        _text("certificate", "the certificate's number"),
        _text("issuer", "who issued it"),
        _us("at_us", "when it was entered"),
    ),
    ("standard", "valid_from_us"),
)

LENGTHS: Final = Table(
    "lengths",
    "a length on the certificate of a standard",
    (
        _text("standard", "the standard", needed=True),
        _us("valid_from_us", "the first moment the certificate holds", needed=True),
        _nm("nominal_nm", "what is written on it", needed=True),
        _nm("length_nm", "the certified length at 20 °C", needed=True),
        _nm("u_nm", "its standard uncertainty (k = 1)"),
    ),
    ("standard", "valid_from_us", "nominal_nm"),
)

CALIBRATIONS: Final = Table(
    "calibrations",
    "a calibration that has ended",
    (
        _SITE,
        _GAUGE,
        _text("run", "the calibration; its points have the same", needed=True),
        _us("at_us", "when it ended", needed=True),
        _us("begun_us", "when it was begun"),
        _text("ended", "how it ended", words=ENDS),
        _text("certificate", "the certificate's number; empty if there is none"),
        _text("standard", "the standard it was done against"),
        _text("plan", "the plan's name"),
        _count("planned_up", "points the plan has rising, of one run"),
        _count("planned_down", "points the plan has falling, of one run"),
        _count("planned_repeats", "repeated points the plan has, of one run"),
        _mc("coldest_mc", "the least temperature that the plan allows"),
        _mc("warmest_mc", "the highest temperature that the plan allows"),
        _text("rule", "the decision rule"),
        _nm("limit_nm", "permissible error that it was judged by"),
        _nm("found_error_nm", "size of the error over the range, as found"),
        _nm("found_expanded_nm", "its expanded uncertainty"),
        _text("found_word", "the decision as found, over all limits", words=WORDS),
        _nm("left_error_nm", "size of the error over the range, as left"),
        _nm("left_expanded_nm", "its expanded uncertainty"),
        _text("left_word", "the decision as left, over all limits", words=WORDS),
        _us("due_us", "the first moment it is no longer in date"),
        _text("authorised_by", "who answers for the certificate"),
        _OPERATOR,
        _text("found_error_word", "the decision on that error as found", words=WORDS),
        _text("left_error_word", "the decision on that error as left", words=WORDS),
    ),
    ("gauge", "at_us"),
)

CHECKS: Final = Table(
    "checks",
    "a check of a gauge on its setting master, within a job",
    (
        _SITE,
        _GAUGE,
        _us("at_us", "when it was made", needed=True),
        _text("job", "the job it belongs to"),
        _text("checked", "what came of it", needed=True, words=CHECKED),
        _nm("value_nm", "what the gauge read on the master"),
        _nm("master_nm", "the master's length"),
        _nm("allowed_nm", "how far the reading may have moved"),
        _OPERATOR,
    ),
    ("gauge", "at_us"),
)

TABLES: Final[dict[str, Table]] = {
    table.name: table
    for table in (POINTS, CAPTURES, GAUGES, STANDARDS, LENGTHS, CALIBRATIONS, CHECKS)
}
"""Every table by its name. `points` and `captures` may be of any size; the others are small enough
to be held whole."""

LARGE: Final = ("points", "captures")
