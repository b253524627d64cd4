"""The amounts of a job's recipes, worked out with the facts of the boat; what is still wanted is named and not guessed."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.errors import DiagnoseError
from diagnose.knowledge.jobs import Job, Recipe, Step
from diagnose.reckon.run import Figure, missing, reckon
from diagnose.work.ground import Ground
from diagnose.work.results import Amount, RecipeLine


def recipes(ground: Ground, jobs: Sequence[Job], given: dict[str, str] | None = None) -> tuple[RecipeLine, ...]:
    """The recipes of these jobs, step by step.

    Args:
        ground: the case.
        jobs: of the plan.
        given: inputs that a person measured, by name; they replace what the recipe and the boat's facts say.
    """
    return tuple(_line(ground, job, step, step.recipe, given or {}) for job in jobs for step in job.steps if step.recipe is not None)


def _line(ground: Ground, job: Job, step: Step, recipe: Recipe, own: dict[str, str]) -> RecipeLine:
    calculation = ground.book.calculations[recipe.calculation]
    typed, taken = dict(recipe.given), []
    for name, fact in recipe.facts.items():
        typed[name] = _typed(ground, fact)
        if fact not in ground.situation.known_facts and name not in own:
            taken.append(f"{ground.book.facts[fact].title}: {typed[name]}, not told of this boat")
    typed.update({name: text for name, text in own.items() if name in calculation.asks})
    wanted = tuple(calculation.asks[name].ask for name in missing(calculation, typed))
    amounts: tuple[Amount, ...] = ()
    if not wanted:
        try:
            done = reckon(calculation, typed)
        except DiagnoseError as error:
            wanted = (error.what,)
        else:
            amounts = tuple(a for figure in done.figures for a in _amounts(figure))
            taken += [f"{i.ask} {i.text}: {i.taken}" for i in done.inputs if i.taken]
    return RecipeLine(job=job.id, step=step.id, calculation=recipe.calculation, title=calculation.title, why=recipe.why, given=typed,
                      taken=tuple(taken), wanted=wanted, amounts=amounts, cautions=calculation.cautions)


def _typed(ground: Ground, fact: str) -> str:
    """A fact of the boat as it would be typed into a calculation."""
    value, unit = ground.situation.facts[fact], ground.book.facts[fact].unit
    if isinstance(value, float) and not isinstance(value, bool):
        return f"{value:g} {unit}" if unit not in (None, "1") else f"{value:g}"
    return str(value)


def _amounts(figure: Figure) -> list[Amount]:
    if figure.word is not None:
        return [Amount(name=figure.name, title=figure.title, value=None, below=0.0, above=0.0, unit="1",
                       word=" or ".join((figure.word, *figure.or_else)))]
    return [Amount(name=figure.name, title=figure.title, value=t.value, below=t.below, above=t.above, unit=t.unit, word=None)
            for t in figure.values]
