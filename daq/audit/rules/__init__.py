"""The audit's rules, each a file: what it asks of a log, on what it rests, what people read."""

from daq.audit.rules.loading import built_in, chosen, load_rules, rule_from, with_values
from daq.audit.rules.rule import Chance, Heading, Parameter, Rule

__all__ = [
    "Chance",
    "Heading",
    "Parameter",
    "Rule",
    "built_in",
    "chosen",
    "load_rules",
    "rule_from",
    "with_values",
]
