"""From the barrel and the springs at hand to every figure, with its uncertainty."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from gaugelink.errors import SizingError
from gaugelink.mechanics.stopwork import winding_advice
from gaugelink.names import spoken
from gaugelink.sizing.checks import check_inputs, rules_that_fit
from gaugelink.sizing.compare import distances
from gaugelink.sizing.covered import covered, refused_rules
from gaugelink.sizing.doubts import doubts
from gaugelink.sizing.evidence import Difference, evidence
from gaugelink.sizing.figures import Figures
from gaugelink.sizing.finding import Finding, found_from
from gaugelink.sizing.inputs import SizingInputs, quantities
from gaugelink.sizing.measurement_model import (
    DOCUMENTED,
    FOUND,
    given_names,
    measurement_model,
    unit_of,
)
from gaugelink.sizing.movement import motion
from gaugelink.sizing.results import (
    RuleDistance,
    RuleResult,
    SizeResult,
    SizingWarning,
    Watch,
)
from gaugelink.sizing.rules import HALF_AREA, WANTED_TURNS, Rule
from gaugelink.sizing.torque_figures import BarrelSprings
from gaugelink.uncertainty.estimate import Estimate, Model, Quantity
from gaugelink.uncertainty.evaluate import Evaluation, evaluate

_SAID_ELSEWHERE = ("arbor-small",)  # ``doubts`` says it of every given spring
# What the torque model says of a spring that runs right down, or never leaves a loose coil.
_MAY_BE_ZERO = (
    *("loose_coils", "torque_kept", "torque_full", "turns_working", "crown_turns", "hours_usable"),
    *("ratio_day_low", "ratio_day_high", "to_found_low", "to_found_high"),
)


def size_spring(
    inputs: SizingInputs, *, coverage: float = 0.95, draws: int = 200_000, seed: int = 1
) -> SizeResult:
    """Size a mainspring in mm by every rule, and compare the springs that are known.

    Args:
        inputs: barrel, springs and wishes; only the bore is needed.
        coverage: coverage probability of every interval, between 0 and 1.
        draws: number of Monte Carlo draws, 1000 or more.
        seed: seed of the draws, 0 or more; the same seed gives the same numbers.

    Raises:
        SizingError: the inputs contradict one another, or are so uncertain that a
            figure has no interval.
        InputError: coverage, draws or seed is out of range.
    """
    wishes = covered(inputs)
    check_inputs(wishes.inputs)
    result = _sized(wishes.inputs, coverage, draws, seed)
    refused = (*wishes.refused, *refused_rules(wishes.inputs))
    warnings = (*result.warnings, *_of_the_model(wishes.inputs, result))
    return replace(result, warnings=warnings, refused=refused)


def _sized(inputs: SizingInputs, coverage: float, draws: int, seed: int) -> SizeResult:
    rules, left_out = rules_that_fit(inputs)
    model, known = measurement_model(inputs, rules), quantities(inputs)
    best = {quantity.label: quantity.value for quantity in known}
    best |= model(best)
    evaluation = evaluate(
        model,
        known,
        units={label: unit_of(label) for label in best},
        coverage=coverage,
        draws=draws,
        seed=seed,
    )
    _check_intervals(evaluation)
    doubtful = (*doubts(inputs, best, left_out), *_draws_left_out(evaluation))
    names = {**{rule.name: False for rule in rules}, **dict.fromkeys(given_names(inputs), True)}
    figures = Figures(inputs, _by_label(evaluation), BarrelSprings(best, inputs, names))
    away = _distances(inputs, rules, model, known)
    return replace(_result(inputs, rules, evaluation, figures, away), warnings=doubtful)


def _result(
    inputs: SizingInputs,
    rules: Sequence[Rule],
    evaluation: Evaluation,
    figures: Figures,
    away: Mapping[str, tuple[RuleDistance, ...]],
) -> SizeResult:
    by_label = _by_label(evaluation)
    compared = {name: figures.compared(name, away[name]) for name in given_names(inputs)}
    return SizeResult(
        coverage=evaluation.coverage,
        inputs=evaluation.inputs,
        height=by_label.get("height"),
        rules=tuple(
            RuleResult(rule=rule.name, basis=rule.basis, figures=figures.of_spring(rule.name))
            for rule in rules
        ),
        found=compared.get(FOUND),
        documented=compared.get(DOCUMENTED),
        budget=evaluation.budget,
        warnings=(),
        draws=evaluation.draws,
        seed=evaluation.seed,
        disagreements=evaluation.disagreements,
        watch=_watch(inputs),
        motion=motion(inputs),
        found_length=inputs.found_length,
        finding=_finding(inputs, by_label, away.get(FOUND, ())),
    )


def _by_label(evaluation: Evaluation) -> dict[str, Estimate]:
    return {e.label: e for e in (*evaluation.inputs, *evaluation.estimates)}


def _watch(inputs: SizingInputs) -> Watch:
    return Watch(
        arrangement=inputs.arrangement,
        material=inputs.material,
        length_includes_end=inputs.length_includes_end,
        train=inputs.train,
        hours_per_turn=inputs.hours_per_turn,
        winding_train=inputs.winding_train,
    )


def _finding(
    inputs: SizingInputs, estimates: Mapping[str, Estimate], away: Sequence[RuleDistance]
) -> Finding | None:
    if inputs.found is None:
        return None
    above = next((d for d in away if d.output == "height"), None)
    difference = Difference(value_mm=above.difference, u_mm=above.u) if above else None
    return found_from(evidence(inputs, estimates, difference))


def _distances(
    inputs: SizingInputs, rules: Sequence[Rule], model: Model, known: Sequence[Quantity]
) -> dict[str, tuple[RuleDistance, ...]]:
    names = tuple(rule.name for rule in rules)
    return {name: distances(name, names, model, known) for name in given_names(inputs)}


def _of_the_model(inputs: SizingInputs, result: SizeResult) -> Iterator[SizingWarning]:
    """What the torque model warns of for the springs that somebody may go by."""
    for advice in winding_advice(inputs.arrangement):
        yield SizingWarning(code=advice.code, text=advice.text)
    springs = {r.rule: r.figures for r in result.rules if r.rule in (HALF_AREA, WANTED_TURNS)}
    given = {FOUND: result.found, DOCUMENTED: result.documented}
    springs |= {name: spring.figures for name, spring in given.items() if spring is not None}
    for name, figures in springs.items():
        for advice in figures.torque_model.warnings if figures.torque_model else ():
            if advice.code not in _SAID_ELSEWHERE:
                yield SizingWarning(code=f"{name}-{advice.code}", text=f"{name}: {advice.text}")


def _check_intervals(evaluation: Evaluation) -> None:
    """Refuse intervals that mean nothing: every output is a size, a number or a ratio above zero.

    Turns reach zero where the coils no longer fit, so this catches that as well.
    """
    for estimate in evaluation.estimates:
        if estimate.low <= 0 and estimate.label.rpartition(".")[2] not in _MAY_BE_ZERO:
            raise SizingError(
                f"The inputs are too uncertain to say what {spoken(estimate.label)} is.",
                inputs=(estimate.label,),
                hint="Measure more closely, or check the unit of each uncertainty.",
            )


def _draws_left_out(evaluation: Evaluation) -> Iterator[SizingWarning]:
    worst = max(evaluation.distributions, key=lambda drawn: drawn.excluded_share)
    if worst.excluded_share > 0:
        yield SizingWarning(
            code="draws-left-out",
            text=f"In {100 * worst.excluded_share:.2f} % of the draws {spoken(worst.label)} has no "
            "value, and its interval leaves them out.",
        )
