"""From the barrel and the springs at hand to every figure, with its uncertainty.

A given spring is set against its reference and against every rule; what a measured amplitude
says of the movement, and what it lets expect of each spring, comes with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Winding
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.stopwork import stopwork_warnings, winding_advice
from gaugelink.mechanics.stress import stress_warnings
from gaugelink.model import Advice
from gaugelink.sizing.checks import check_inputs, doubts, rules_that_fit
from gaugelink.sizing.covered import covered, refused_rules
from gaugelink.sizing.distances import band, distances, reference_text
from gaugelink.sizing.inputs import (
    ORDER,
    GivenSpring,
    SizingInputs,
    found_belief,
    quantities,
)
from gaugelink.sizing.measurement_model import (
    DOCUMENTED,
    FOUND,
    OF_THE_TORQUE,
    BarrelSprings,
    given_names,
    measurement_model,
    order_sizes,
    reference_of,
    springs_in,
    unit_of,
)
from gaugelink.sizing.order import Order, order_for, room_of
from gaugelink.sizing.results import (
    AtFusee,
    ComparedSpring,
    Finding,
    FuseeChain,
    RatioInterval,
    RuleDistance,
    RuleResult,
    SizeResult,
    SpringFigures,
    TorqueModel,
    Watch,
)
from gaugelink.sizing.rules import GONE_BY, HALF_AREA, Rule
from gaugelink.sizing.stops import stops
from gaugelink.sizing.swing import foreseen, motion
from gaugelink.uncertainty.estimate import Estimate, Model, Quantity
from gaugelink.uncertainty.evaluate import Evaluation, evaluate
from gaugelink.units import spoken

# What the torque model says of a spring that runs right down, or never leaves a loose coil.
_MAY_BE_ZERO = (
    *("loose_coils", "torque_kept", "torque_full", "turns_working", "crown_turns", "hours_usable"),
    *("torque_half_turn", "hours_to_stop"),
    *("fusee_bottom", "fusee_evenness", "fusee_spare_turns", "fusee_best_set_up"),
    "fusee_best_evenness",
    *("ratio_day_low", "ratio_day_high", "to_found_low", "to_found_high"),
)


def size_spring(
    inputs: SizingInputs,
    *,
    coverage: float = 0.95,
    draws: int = 200_000,
    seed: int = 1,
    every_rule: bool = True,
) -> SizeResult:
    """Size a mainspring in mm by the rules, and compare the springs that are known.

    Args:
        inputs: barrel, springs and wishes; only the bore is needed.
        coverage: coverage probability of every interval, between 0 and 1.
        draws: number of Monte Carlo draws, 1000 or more.
        seed: seed of the draws, 0 or more; the same seed gives the same numbers.
        every_rule: work out all rules; else those alone that the answer rests on, which takes
            half as long and gives the same numbers.

    Raises:
        SizingError: the inputs contradict one another, or are so uncertain that a
            figure has no interval.
        InputError: coverage, draws or seed is out of range.
    """
    wishes = covered(inputs)
    check_inputs(wishes.inputs)
    order = order_for(wishes.inputs)
    inputs = replace(wishes.inputs, order=None if order is None else _as_spring(order))
    kept, left_out = rules_that_fit(inputs)
    rules = tuple(rule for rule in kept if every_rule or rule.name in GONE_BY)
    run = _Run(coverage=coverage, draws=draws, seed=seed)
    result = replace(_sized(inputs, rules, left_out, run), order=order)
    refused = (*wishes.refused, *refused_rules(wishes.inputs))
    warnings = (*result.warnings, *_of_the_model(wishes.inputs, result))
    return replace(result, warnings=warnings, refused=refused)


def _as_spring(order: Order) -> GivenSpring:
    """The size to order as it is written, without tolerances."""
    height = order.height
    return GivenSpring(
        thickness=Quantity(label="thickness", value=order.thickness.target),
        height=None if height is None else Quantity(label="height", value=height.target),
        length=Quantity(label="length", value=order.length.target),
    )


class _Run(NamedTuple):
    coverage: float
    draws: int
    seed: int


def _sized(
    inputs: SizingInputs, rules: Sequence[Rule], left_out: tuple[Rule, ...], run: _Run
) -> SizeResult:
    model, known = measurement_model(inputs, rules), quantities(inputs)
    best = {quantity.label: quantity.value for quantity in known}
    best |= {**order_sizes(inputs), **model(best)}
    evaluation = evaluate(
        model,
        known,
        units={label: unit_of(label) for label in best},
        coverage=run.coverage,
        draws=run.draws,
        seed=run.seed,
        bends=[label for label in best if label.rpartition(".")[2] in OF_THE_TORQUE],
    )
    unknown = tuple(_without_meaning(evaluation))
    springs = {label.partition(".")[0] for label in unknown}
    if springs == {FOUND} and "found.length" in best:
        return _without_found_length(inputs, best, rules, left_out, run)
    unsure = [rule for rule in rules if rule.name in springs and rule.name not in GONE_BY]
    if unsure and len(unsure) == len(springs):
        return _without_rules(inputs, rules, left_out, unsure, run)
    _refuse(unknown)
    doubtful = (*doubts(inputs, best, left_out), *_draws_left_out(evaluation))
    in_barrel = BarrelSprings(best, inputs, springs_in(inputs, rules))
    figures = _Figures(inputs, {**_by_label(evaluation), **_as_written(inputs)}, in_barrel)
    away = _distances(inputs, rules, model, known)
    result = _result(inputs, rules, evaluation, figures, away)
    return replace(result, warnings=doubtful, stops=stops(inputs, best), accepted=inputs.accepted)


def _without_rules(
    inputs: SizingInputs,
    rules: Sequence[Rule],
    left_out: tuple[Rule, ...],
    unsure: Sequence[Rule],
    run: _Run,
) -> SizeResult:
    """Size by the other rules where these have no interval: the answer rests on none of them."""
    known = [rule for rule in rules if rule not in unsure]
    result = _sized(inputs, known, left_out, run)
    names = ", ".join(rule.name for rule in unsure)
    advice = Advice(
        code="rule-too-uncertain",
        text=f"The inputs are too uncertain for these rules, which are left out: {names}.",
    )
    return replace(result, warnings=(*result.warnings, advice))


def _as_written(inputs: SizingInputs) -> dict[str, Estimate]:
    """The sizes to order, which are exact."""
    return {
        label: Estimate(
            label=label, value=size, u=0.0, dof=math.inf, unit="mm", low=size, high=size
        )
        for label, size in order_sizes(inputs).items()
    }


def _without_found_length(
    inputs: SizingInputs,
    best: Mapping[str, float],
    rules: Sequence[Rule],
    left_out: tuple[Rule, ...],
    run: _Run,
) -> SizeResult:
    """Size the barrel all the same where the found spring cannot have been of its length."""
    assert inputs.found is not None
    barrel = replace(inputs, found=replace(inputs.found, length=None), found_length=None)
    result = _sized(barrel, rules, left_out, run)
    advice = Advice(
        code="found-length-impossible",
        text=f"The found spring cannot have been {best['found.length']:.0f} mm long: at its "
        f"thickness that fills {best['found.fill']:.2f} of the ring. Its turns and its torque are "
        "left out; measure its length and its thickness again.",
    )
    return replace(result, warnings=(advice, *result.warnings))


def _result(
    inputs: SizingInputs,
    rules: Sequence[Rule],
    evaluation: Evaluation,
    figures: _Figures,
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
        watch=_watch(inputs, by_label),
        motion=motion(inputs),
        found_length=inputs.found_length,
        finding=_finding(inputs, by_label, away.get(FOUND, ())),
        order_figures=None if inputs.order is None else figures.of_spring(ORDER),
        over_found=figures.ratio(f"{ORDER}.over_found"),
        room=room_of(inputs),
    )


def _by_label(evaluation: Evaluation) -> dict[str, Estimate]:
    return {e.label: e for e in (*evaluation.inputs, *evaluation.estimates)}


def _watch(inputs: SizingInputs, estimates: Mapping[str, Estimate]) -> Watch:
    return Watch(
        arrangement=inputs.arrangement,
        material=inputs.material,
        found_material=inputs.found_material,
        length_includes_end=inputs.length_includes_end,
        train=inputs.train,
        hours_per_turn=inputs.hours_per_turn,
        winding_train=inputs.winding_train,
        fusee=_chain(inputs, estimates),
    )


def _chain(inputs: SizingInputs, estimates: Mapping[str, Estimate]) -> FuseeChain | None:
    if inputs.fusee is None:
        return None
    return FuseeChain(
        length=estimates["chain_length"],
        barrel_turns=estimates["chain_turns"],
        turns=estimates["fusee_turns"],
        set_up=estimates["fusee_set_up"],
        hours_per_turn=inputs.fusee.hours_per_turn,
    )


def _finding(
    inputs: SizingInputs, estimates: Mapping[str, Estimate], away: Sequence[RuleDistance]
) -> Finding | None:
    if inputs.found is None:
        return None
    from gaugelink.sizing.evidence import evidence, found_from

    above = next((d for d in away if d.output == "height"), None)
    belief = found_belief(inputs)
    strength = None if belief is None else belief.finding()
    return found_from(evidence(inputs, estimates, above, strength), strength)


def _distances(
    inputs: SizingInputs, rules: Sequence[Rule], model: Model, known: Sequence[Quantity]
) -> dict[str, tuple[RuleDistance, ...]]:
    names = tuple(rule.name for rule in rules)
    return {name: distances(name, names, model, known) for name in given_names(inputs)}


def _of_the_model(inputs: SizingInputs, result: SizeResult) -> Iterator[Advice]:
    """What the torque model warns of for the springs that somebody may go by."""
    yield from winding_advice(inputs.arrangement)
    springs = {r.rule: r.figures for r in result.rules if r.rule in GONE_BY}
    given = {FOUND: result.found, DOCUMENTED: result.documented}
    springs |= {name: spring.figures for name, spring in given.items() if spring is not None}
    for name, figures in springs.items():
        for advice in figures.torque_model.warnings if figures.torque_model else ():
            # ``doubts`` says it of all others, by the same limit
            if advice.code != "arbor-small" or name == HALF_AREA:
                yield Advice(code=f"{name}-{advice.code}", text=f"{name}: {advice.text}")


def _without_meaning(evaluation: Evaluation) -> Iterator[str]:
    """Every output is a size, a number or a ratio above zero, or its interval means nothing.

    Turns reach zero where the coils no longer fit, so this catches that as well.
    """
    for estimate in evaluation.estimates:
        if estimate.low <= 0 and estimate.label.rpartition(".")[2] not in _MAY_BE_ZERO:
            yield estimate.label


def _refuse(unknown: Sequence[str]) -> None:
    for label in unknown[:1]:
        raise SizingError(
            f"The inputs are too uncertain to say what {spoken(label)} is.",
            inputs=(label,),
            hint="Measure more closely, or check the unit of each uncertainty.",
        )


# Below this share the draws without a value move no end of an interval by what is printed.
_LEAST_LEFT_OUT = 0.001


def _draws_left_out(evaluation: Evaluation) -> Iterator[Advice]:
    worst = max(evaluation.distributions, key=lambda drawn: drawn.excluded_share)
    if worst.excluded_share >= _LEAST_LEFT_OUT:
        yield Advice(
            code="draws-left-out",
            text=f"In {100 * worst.excluded_share:.1f} % of the draws {spoken(worst.label)} has no "
            "value, and its interval leaves them out.",
        )


Estimates = Mapping[str, Estimate]


class _Figures:
    """The figures of the springs of one evaluation.

    Args:
        inputs: what was known and asked.
        estimates: inputs and outputs by label.
        springs: the springs at the best values of all sizes.
    """

    def __init__(self, inputs: SizingInputs, estimates: Estimates, springs: BarrelSprings) -> None:
        self._inputs = inputs
        self._estimates = estimates
        self._springs = springs

    def of_spring(self, name: str) -> SpringFigures:
        """Return the dimensions of a spring and what they give in this barrel."""
        known = self._estimates
        return SpringFigures(
            thickness=known[f"{name}.thickness"],
            length=known.get(f"{name}.length"),
            fill=known.get(f"{name}.fill"),
            turns=known.get(f"{name}.turns"),
            turns_spiral=known.get(f"{name}.turns_spiral"),
            coils_down=known.get(f"{name}.coils_down"),
            coils_wound=known.get(f"{name}.coils_wound"),
            height=known.get(f"{name}.height"),
            hours=known.get(f"{name}.hours"),
            torque_model=self._torque_model(name),
        )

    def compared(self, name: str, away: tuple[RuleDistance, ...]) -> ComparedSpring:
        """Return a given spring with its torque against its reference.

        Args:
            name: "found" or "documented".
            away: its distances from the rules.
        """
        reference = reference_of(name, self._inputs)
        at_limit = self._estimates.get(f"{name}.torque_at_limit")
        equal = self._estimates.get(f"{name}.torque_of_equal_shape")
        return ComparedSpring(
            figures=self.of_spring(name),
            torque_ratio=band(at_limit, equal) if at_limit and equal else None,
            torque_at_limit=at_limit,
            torque_of_equal_shape=equal,
            torque_reference=reference_text(name, reference, self._estimates),
            distances=away,
            reference=reference,
            ratio_full=self.ratio(f"{name}.ratio"),
            ratio_day=self.ratio(f"{name}.ratio_day"),
        )

    def _torque_model(self, name: str) -> TorqueModel | None:
        known = self._estimates
        if f"{name}.turns_usable" not in known:
            return None
        return TorqueModel(
            stress_full=known[f"{name}.stress_full"],
            turns_usable=known[f"{name}.turns_usable"],
            loose_coils=known[f"{name}.loose_coils"],
            stress_range=known[f"{name}.stress_range"],
            hours_usable=known.get(f"{name}.hours_usable"),
            hours_to_stop=known.get(f"{name}.hours_to_stop"),
            torque_full=known.get(f"{name}.torque_full"),
            torque_half_turn=known.get(f"{name}.torque_half_turn"),
            torque_kept=known.get(f"{name}.torque_kept"),
            energy=known.get(f"{name}.energy"),
            turns_working=known.get(f"{name}.turns_working"),
            crown_turns=known.get(f"{name}.crown_turns"),
            foreseen=foreseen(self._inputs, self.ratio(f"{name}.to_found")),
            fusee=self._at_fusee(name),
            upper_limit=self._inputs.arrangement.winding is Winding.AUTOMATIC,
            warnings=self._warnings(name),
        )

    def _at_fusee(self, name: str) -> AtFusee | None:
        known = self._estimates
        if f"{name}.fusee_evenness" not in known:
            return None
        return AtFusee(
            top=known.get(f"{name}.fusee_top"),
            bottom=known.get(f"{name}.fusee_bottom"),
            evenness=known[f"{name}.fusee_evenness"],
            best_set_up=known[f"{name}.fusee_best_set_up"],
            best_evenness=known[f"{name}.fusee_best_evenness"],
            spare_turns=known[f"{name}.fusee_spare_turns"],
        )

    def _warnings(self, name: str) -> tuple[Advice, ...]:
        """A stress range is warned of only where it is beyond the limit in all of its interval."""
        inputs = self._inputs
        material = inputs.material_of_found if name == FOUND else inputs.material
        strongest = material.yield_mpa.high
        sure = self._estimates[f"{name}.stress_range"].low > 2 * strongest
        warnings = stress_warnings(self._springs[name], strongest)
        return (
            *(each for each in warnings if sure or each.code != "stress-range"),
            *stopwork_warnings(self._springs[name], self._inputs.arrangement.stopwork),
            *chain_warnings(self._estimates.get(f"{name}.fusee_spare_turns")),
        )

    def ratio(self, label: str) -> RatioInterval | None:
        """Return a ratio of torque with its interval; None where it was not compared."""
        low, high = (self._estimates.get(f"{label}_{end}") for end in ("low", "high"))
        if low is None or high is None:
            return None
        return RatioInterval(
            band=Band(low=low.value, high=high.value), whole=Band(low=low.low, high=high.high)
        )


def chain_warnings(spare: Estimate | None) -> tuple[Advice, ...]:
    """Say where a spring may have fewer turns than the chain of its fusee and the set-up take.

    Args:
        spare: turns that it has beside them; None without a fusee.
    """
    if spare is None or spare.low >= 0:
        return ()
    lacks = "lacks" if spare.high < 0 else "may lack"
    advice = Advice(
        code="fusee-short",
        text=f"This spring {lacks} turns for chain and set-up: it would be tight before "
        "all the chain is on the fusee. Take less set-up, or a thinner or longer spring.",
    )
    return (advice,)
