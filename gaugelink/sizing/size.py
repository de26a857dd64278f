"""From the barrel and the springs at hand to every figure, with its uncertainty."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from gaugelink.errors import SizingError
from gaugelink.sizing.checks import check_inputs, rules_that_fit
from gaugelink.sizing.compare import band, distances, reference_text
from gaugelink.sizing.doubts import doubts
from gaugelink.sizing.inputs import SizingInputs, quantities
from gaugelink.sizing.measurement_model import (
    DOCUMENTED,
    FOUND,
    given_names,
    measurement_model,
    reference_of,
    unit_of,
)
from gaugelink.sizing.results import (
    ComparedSpring,
    RuleDistance,
    RuleResult,
    SizeResult,
    SizingWarning,
    SpringFigures,
)
from gaugelink.sizing.rules import Rule
from gaugelink.uncertainty.estimate import Estimate, Model, Quantity
from gaugelink.uncertainty.evaluate import Evaluation, evaluate


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
    check_inputs(inputs)
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
    return _result(inputs, rules, evaluation, _distances(inputs, rules, model, known), doubtful)


def _result(
    inputs: SizingInputs,
    rules: Sequence[Rule],
    evaluation: Evaluation,
    away: Mapping[str, tuple[RuleDistance, ...]],
    warnings: tuple[SizingWarning, ...],
) -> SizeResult:
    by_label = {e.label: e for e in (*evaluation.inputs, *evaluation.estimates)}
    compared = {name: _compared(name, inputs, by_label, away[name]) for name in given_names(inputs)}
    return SizeResult(
        coverage=evaluation.coverage,
        inputs=evaluation.inputs,
        height=by_label.get("height"),
        rules=tuple(
            RuleResult(rule=rule.name, basis=rule.basis, figures=_figures(rule.name, by_label))
            for rule in rules
        ),
        found=compared.get(FOUND),
        documented=compared.get(DOCUMENTED),
        budget=evaluation.budget,
        warnings=warnings,
        draws=evaluation.draws,
        seed=evaluation.seed,
        disagreements=evaluation.disagreements,
    )


def _distances(
    inputs: SizingInputs, rules: Sequence[Rule], model: Model, known: Sequence[Quantity]
) -> dict[str, tuple[RuleDistance, ...]]:
    names = tuple(rule.name for rule in rules)
    return {name: distances(name, names, model, known) for name in given_names(inputs)}


def _figures(name: str, estimates: Mapping[str, Estimate]) -> SpringFigures:
    return SpringFigures(
        thickness=estimates[f"{name}.thickness"],
        length=estimates.get(f"{name}.length"),
        fill=estimates.get(f"{name}.fill"),
        turns=estimates.get(f"{name}.turns"),
        turns_spiral=estimates.get(f"{name}.turns_spiral"),
        coils_down=estimates.get(f"{name}.coils_down"),
        coils_wound=estimates.get(f"{name}.coils_wound"),
        height=estimates.get(f"{name}.height"),
        hours=estimates.get(f"{name}.hours"),
    )


def _compared(
    name: str,
    inputs: SizingInputs,
    estimates: Mapping[str, Estimate],
    away: tuple[RuleDistance, ...],
) -> ComparedSpring:
    at_limit = estimates[f"{name}.torque_at_limit"]
    of_equal_shape = estimates[f"{name}.torque_of_equal_shape"]
    return ComparedSpring(
        figures=_figures(name, estimates),
        torque_ratio=band(at_limit, of_equal_shape),
        torque_at_limit=at_limit,
        torque_of_equal_shape=of_equal_shape,
        torque_reference=reference_text(name, reference_of(name, inputs), estimates),
        distances=away,
    )


def _check_intervals(evaluation: Evaluation) -> None:
    """Refuse intervals that mean nothing: every output is a size, a number or a ratio above zero.

    Turns reach zero where the coils no longer fit, so this catches that as well.
    """
    for estimate in evaluation.estimates:
        if estimate.low <= 0:
            raise SizingError(
                f"The inputs are too uncertain to say what {estimate.label} is.",
                inputs=(estimate.label,),
                hint="Measure more closely, or check the unit of each uncertainty.",
            )


def _draws_left_out(evaluation: Evaluation) -> Iterator[SizingWarning]:
    worst = max(evaluation.distributions, key=lambda drawn: drawn.excluded_share)
    if worst.excluded_share > 0:
        yield SizingWarning(
            code="draws-left-out",
            text=f"In {worst.excluded_share:.2%} of the draws {worst.label} has no value, "
            "and its interval leaves them out.",
        )
