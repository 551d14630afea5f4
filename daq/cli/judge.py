"""restpoint judge: a value with its uncertainty held against its limits by a stated rule."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.calibration.decision import Decision
    from daq.calibration.risk import GlobalRisks
    from daq.spec.limits import Spec
    from daq.spec.rules import DecisionRule, Guards


@click.command(
    epilog='Example: restpoint judge --value "0.006 mm" --u "0.001 mm" --limits "± 0.008 mm" '
    '--rule "guarded 1U"'
)
@click.option("--value", help='What was measured, "0.006 mm". Without it, only what the rule asks.')
@click.option("--u", required=True, help='Its standard uncertainty (k = 1), "0.001 mm".')
@click.option("--limits", required=True, help='"± 0.008 mm", "+0.02 mm -0.01 mm", "max +2 µm".')
@click.option("--nominal", default="0", help="What the limits are deviations from. [default: 0]")
@click.option(
    "--rule",
    default="guarded 1U",
    show_default=True,
    help='"simple", "simple 4:1", "guarded 1U" or "guarded 95%".',
)
@click.option("--k", type=float, help="Coverage factor of U. [default: the rule's, else 2]")
@click.option("--largest", help="The most that U may be, whatever the rule.")
@click.option(
    "--prior",
    help='How the true values of the process spread: "normal MEAN SD", "gamma MEAN SD", '
    '"95 % conforming".',
)
@json_option
def command(as_json: bool, **options: Any) -> int:
    """Decide on a value, and say what the decision risks.

    Give every figure its unit of length, or none at all; without units they are taken as they
    are. docs/budgets.md has examples, docs/deciding.md the rules. The exit status is 0 for a pass
    (or without --value) and 1 for any other word.
    """
    judged = _judged(options)
    if as_json:
        print_json(**_facts(judged))
    else:
        for line in _words(judged):
            click.echo(line)
    return 0 if judged.decision is None or judged.decision.word.value == "pass" else 1


@dataclass(frozen=True, slots=True)
class _Judged:
    unit: str
    spec: "Spec"
    rule: "DecisionRule"
    k: Decimal
    u: Decimal
    guards: "Guards"
    edge_risk: float | None
    decision: "Decision | None"
    prior: str | None
    risks: "GlobalRisks | None"


def _judged(options: dict[str, Any]) -> _Judged:
    from daq.calibration.amounts import Amounts
    from daq.calibration.decision import characteristic, judge
    from daq.calibration.risk import consumer_risk
    from daq.spec.rules import ConformanceProbability, rule_from

    read = Amounts.of(options["limits"])
    nominal = Decimal(0)
    if options["nominal"] != "0":
        nominal = read.figure(options["nominal"], what="--nominal")
    lower, upper = read.limits(options["limits"], what="--limits")
    spec = characteristic("value", lower_mm=lower, upper_mm=upper, source="as typed")
    u = read.figure(options["u"], what="--u")
    rule = rule_from(options["rule"])
    k = options["k"]
    decision = None
    given = options["value"]
    # Judged even where there is no value: what is wrong with the figures is told all the same.
    deviation = Decimal(0) if given is None else read.figure(given, what="--value") - nominal
    largest = options["largest"]
    bound = None if largest is None else read.figure(largest, what="--largest")
    tried = judge(deviation, u, spec, rule, k=k, largest_expanded_mm=bound)
    if given is not None:
        decision = tried
    used = rule
    if k is not None and rule.needs_u and not isinstance(rule, ConformanceProbability):
        used = type(rule).model_validate({**rule.model_dump(), "k": tried.k})
    width = None if lower is None or upper is None else upper - lower
    guards = used.guards(u, width)
    band = _band(lower, upper)
    edge = None
    if guards.accept_mm is not None:
        narrowed = band.narrowed(float(guards.accept_mm))
        ends = [end for end in (narrowed.lower, narrowed.upper) if end is not None]
        edge = max(consumer_risk(end, float(u), band) for end in ends)
    prior, risks = _risks(options["prior"], read, band, nominal, u, guards)
    return _Judged(read.unit, spec, used, tried.k, u, guards, edge, decision, prior, risks)


def _band(lower: Decimal | None, upper: Decimal | None) -> Any:
    from daq.calibration.risk import Band

    return Band(*(None if each is None else float(each) for each in (lower, upper)))


def _risks(
    text: str | None, read: Any, band: Any, nominal: Decimal, u: Decimal, guards: "Guards"
) -> "tuple[str | None, GlobalRisks | None]":
    """The risks over a whole process, in absolute figures, as the prior is written."""
    from daq.calibration.risk import Band, global_risks

    if text is None:
        return None, None
    ends = (None if e is None else e + float(nominal) for e in (band.lower, band.upper))
    tolerance = Band(*ends)
    prior = read.prior(text, tolerance)
    if guards.accept_mm is None:
        return text, None
    acceptance = tolerance.narrowed(float(guards.accept_mm))
    return text, global_risks(float(u), tolerance, acceptance, prior)


def _facts(judged: _Judged) -> dict[str, Any]:
    decision, guards = judged.decision, judged.guards
    facts: dict[str, Any] = {
        "unit": judged.unit or None,
        "rule": str(judged.rule),
        "u": str(judged.u),
        "k": str(judged.k),
        "expanded": str(judged.k * judged.u),
        "guard": None if guards.accept_mm is None else str(guards.accept_mm),
        "acceptance_zone": guards.accept_mm is not None,
        "risk_at_acceptance_limit": judged.edge_risk,
        "word": None,
    }
    if decision is not None:
        facts |= {
            "word": decision.word.value,
            "p_conform": decision.p_conform,
            "consumer_risk": decision.consumer_risk,
            "producer_risk": decision.producer_risk,
        }
    facts["prior"] = judged.prior
    facts["risks"] = None
    if judged.risks is not None:
        of_accepted = judged.risks.consumer_of_accepted
        facts["risks"] = {**asdict(judged.risks), "consumer_of_accepted": of_accepted}
    return facts


def _words(judged: _Judged) -> Iterator[str]:
    from daq.calibration.decision import MEANINGS

    unit = f" {judged.unit}" if judged.unit else ""
    decision, guards = judged.decision, judged.guards
    if decision is not None:
        yield f"{decision.word.value}: {MEANINGS[decision.word]}"
    yield f"  rule         {judged.rule}"
    yield f"  U            {judged.k * judged.u:.4g}{unit} (k = {judged.k.normalize():f})"
    if guards.accept_mm is None:
        yield "  guard band   no acceptance zone: under this rule no value can pass"
    else:
        yield f"  guard band   {guards.accept_mm:.4g}{unit}"
    if judged.edge_risk is not None:
        yield f"  just passed  does not conform with {_share(judged.edge_risk)}, at the most"
    if decision is not None:
        if decision.bound_mm is not None:
            yield f"  largest U    {decision.bound_mm:f}{unit}"
        yield f"  conforms     with a probability of {decision.p_conform:.6f}"
        yield f"  a pass would risk {_share(decision.consumer_risk)}"
        yield f"  a fail would risk {_share(decision.producer_risk)}"
    if judged.prior is None:
        return
    yield f"  Over a process, prior {judged.prior}:"
    if judged.risks is None:
        yield "    nothing is accepted, so there is nothing to risk"
        return
    for name, share in (
        ("conforming", judged.risks.conforming),
        ("accepted", judged.risks.accepted),
        ("accepted wrongly", judged.risks.consumer),
        ("rejected wrongly", judged.risks.producer),
    ):
        yield f"    {name:<18}{_share(share)} of all"


def _share(share: float) -> str:
    return f"{100 * share:.4g} %"
