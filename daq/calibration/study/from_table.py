"""The values of each kind of study, out of its table."""

from daq.calibration.study.bias import Referred
from daq.calibration.study.crossed import Trial
from daq.calibration.study.errors import StudyError
from daq.calibration.study.levels import Occasion, occasion_of
from daq.calibration.study.table import Table


def trials(table: Table) -> list[Trial]:
    """The values of a crossed study."""
    return [
        Trial(row.text["part"], row.text["operator"], row.text["trial"], row.numbers["value"])
        for row in table.rows
    ]


def referred(table: Table) -> list[Referred]:
    """The values of a study of bias."""
    return [Referred(row.numbers["reference"], row.numbers["value"]) for row in table.rows]


def subgroups(table: Table) -> dict[str, list[float]]:
    """The values of a study of stability by their ``at``, in the order of the file.

    Raises:
        StudyError: values of one ``at`` do not follow one another.
    """
    groups: dict[str, list[float]] = {}
    problems = []
    before = ""
    for row in table.rows:
        at = row.text["at"]
        if at in groups and at != before:
            problems.append(
                f"{table.name}:{row.line}: at: {at} was there before, with others since; the lines "
                "must be in the order in which the values were taken"
            )
        groups.setdefault(at, []).append(row.numbers["value"])
        before = at
    if problems:
        raise StudyError(*problems)
    return groups


def occasions(table: Table) -> list[Occasion]:
    """The occasions of a study of levels, or of a check standard.

    With a column ``sd`` each line is an occasion: the mean of its values, their standard deviation
    and its degrees of freedom. Without it, lines of one part, run and day are one occasion.

    Raises:
        StudyError: occasions with one value only.
    """

    def key(text: dict[str, str]) -> tuple[str, str, str]:
        return text.get("part", "check standard"), text.get("run", "1"), text["day"]

    if "sd" in table.columns:
        return [
            Occasion(
                *key(row.text), row.numbers["value"], row.numbers["sd"], int(row.numbers["dof"])
            )
            for row in table.rows
        ]
    groups: dict[tuple[str, str, str], list[float]] = {}
    for row in table.rows:
        groups.setdefault(key(row.text), []).append(row.numbers["value"])
    found, problems = [], []
    for named, values in groups.items():
        try:
            found.append(occasion_of(*named, values))
        except StudyError as error:
            problems += [f"{table.name}: {each}" for each in error.problems]
    if problems:
        raise StudyError(*problems)
    return found


def found_within(table: Table) -> tuple[int, int]:
    """How many results were within the permissible errors, and how many there are."""
    return sum(row.text["found"] != "beyond" for row in table.rows), len(table.rows)
