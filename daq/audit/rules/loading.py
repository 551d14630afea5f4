"""Rule files read and checked: those that come with the program, and a laboratory's own."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from daq.audit.errors import RuleError
from daq.audit.rules.rule import PLACE, Rule
from drivers.toml_form import check_toml
from drivers.toml_lines import lines_of

LARGEST_BYTES = 100_000

EVERY = "all"
"""What stands for every rule where rules are named."""

Values = Mapping[str, float]


def built_in() -> tuple[Rule, ...]:
    """The rules that come with the program, in the order of their files."""
    return load_rules(Path(__file__).parent)


def load_rules(folder: Path) -> tuple[Rule, ...]:
    """The rules of a folder, one a ``.toml`` file, in the order of their names.

    Raises:
        RuleError: there is none, one cannot be read, or files have mistakes (all are told).
    """
    if not folder.is_dir():
        raise RuleError(f"{folder}: is no folder; rules are files of a folder, one rule each")
    found: dict[str, Rule] = {}
    problems: list[str] = []
    for path in sorted(folder.glob("*.toml")):
        try:
            rule = rule_from(path.read_bytes(), path.name)
        except OSError as error:
            problems.append(f"{path}: cannot be read ({error.strerror})")
        except RuleError as error:
            problems += error.problems
        else:
            if rule.id in found:
                problems.append(f"{path.name}:1: rule.id: {rule.id} is the name of another file's")
            found[rule.id] = rule
    if problems:
        raise RuleError(*problems)
    if not found:
        raise RuleError(f"{folder}: has no rule; a rule is a file that ends in .toml")
    return tuple(found.values())


def rule_from(raw: bytes, name: str) -> Rule:
    """The rule in a file's bytes.

    Raises:
        RuleError: every mistake, as ``file:line: field: what is wrong; what would be right``.
    """
    if len(raw) > LARGEST_BYTES:
        raise RuleError(f"{name}:1: is too large for a rule; {LARGEST_BYTES} bytes at most")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise RuleError(f"{name}:{line}: is not UTF-8; save it as such") from None
    rule, problems = check_toml(text, name, Rule)
    if rule is None:
        raise RuleError(*problems)
    lines = lines_of(text)
    if told := [f"{name}:{lines.get((at,), 1)}: {at}: {what}" for at, what in _between(rule)]:
        raise RuleError(*told)
    return rule


def _between(rule: Rule) -> Iterator[tuple[str, str]]:
    """What is wrong between the tables of a sound file."""
    for name in dict.fromkeys(PLACE.findall(rule.query)):
        if name not in rule.parameters:
            yield "query", f"${name} is no parameter; add [parameters.{name}]"
    if ";" in rule.query:
        yield "query", "has a semicolon; one SELECT, without it"
    if not rule.query.lstrip().upper().startswith(("SELECT", "WITH")):
        yield "query", "is no SELECT; a rule only reads"


def with_values(sql: str, rule: Rule, given: Values) -> str:
    """The query with the parameters' values in their places, written so that any engine reads them.

    Args:
        sql: the query, or another with the same parameters.
        rule: whose parameters they are.
        given: values other than the defaults.
    """
    values = {name: each.default for name, each in rule.parameters.items()} | dict(given)

    def value(name: str) -> str:
        number = values[name]
        return str(number) if isinstance(number, int) else f"CAST({number!r} AS DOUBLE)"

    return PLACE.sub(lambda found: value(found[1]), sql)


def chosen(rules: Sequence[Rule], names: Sequence[str]) -> tuple[Rule, ...]:
    """The rules of these names; where none is named, all but those that are run only then.

    The name ``all`` means every rule.

    Raises:
        RuleError: a name that no rule has.
    """
    known = {rule.id: rule for rule in rules}
    if EVERY in names:
        return tuple(rules)
    if wrong := [name for name in names if name not in known]:
        raise RuleError(
            *(f"There is no rule {name!r}; there are {', '.join(sorted(known))}." for name in wrong)
        )
    if names:
        return tuple(known[name] for name in dict.fromkeys(names))
    return tuple(rule for rule in rules if rule.rule.default)
