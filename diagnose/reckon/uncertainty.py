"""Uncertainty of what comes out of a function, from that of what goes in.

First-order propagation (JCGM 100, the GUM, section 5.1), with each partial derivative taken over one standard deviation
to either side, as in a spreadsheet (Kragten 1994; Eurachem/CITAC guide CG 4, annex E.2). No function needs to know of it, and
a bend within reach of the uncertainty is met half way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from diagnose.network.nodes import Array

Function = Callable[[Sequence[float]], Sequence[float]]


@dataclass(frozen=True)
class Spread:
    """Figures, and what one standard deviation of each input moves them by, up and down: a row an input, a column a figure."""

    figures: Array
    up: Array
    down: Array
    lost: npt.NDArray[np.bool_]
    """Which figures the function could not give for some input off by its uncertainty."""

    @property
    def moves(self) -> Array:
        """Half the difference of the two: the partial derivative times one standard deviation."""
        return np.asarray((self.up - self.down) / 2.0)

    @property
    def sigmas(self) -> Array:
        """One standard deviation of each figure; errors of the inputs are independent."""
        return np.asarray(np.sqrt((self.moves**2).sum(axis=0)))

    @property
    def above(self) -> Array:
        """How far each figure reaches above itself: the root of the sum of squares of what moves it up."""
        return np.asarray(np.sqrt((np.maximum(np.maximum(self.up, self.down), 0.0) ** 2).sum(axis=0)))

    @property
    def below(self) -> Array:
        """The same below itself, as a positive number."""
        return np.asarray(np.sqrt((np.minimum(np.minimum(self.up, self.down), 0.0) ** 2).sum(axis=0)))

    @property
    def shares(self) -> Array:
        """The share of each figure's variance that each input brings, a row an input."""
        variance = (self.moves**2).sum(axis=0)
        return np.asarray(np.divide(self.moves**2, variance, out=np.zeros_like(self.moves), where=variance > 0))


def propagate(function: Function, values: Sequence[float], sigmas: Sequence[float]) -> Spread:
    """The figures of a function and how far each uncertain input moves them.

    Args:
        function: takes the values, returns one or more figures.
        values: of the inputs.
        sigmas: one standard deviation of each, in the same units; nought where it is exact.

    Raises:
        ValueError: the function refuses the values themselves. Where it refuses a value one standard deviation off,
            the other side stands for both.
    """
    figures = np.asarray(function(values), dtype=float)
    up, down = np.zeros((2, len(values), figures.size))
    for i, sigma in enumerate(sigmas):
        if sigma > 0:
            up[i], down[i] = _moves(function, values, i, sigma, figures)
    lost = np.asarray(np.isnan(up).any(axis=0) | np.isnan(down).any(axis=0))
    up, down = np.where(np.isnan(up), -down, up), np.where(np.isnan(down), -up, down)
    return Spread(figures, np.nan_to_num(up), np.nan_to_num(down), lost)


def _moves(function: Function, values: Sequence[float], which: int, sigma: float, figures: Array) -> tuple[Array, Array]:
    sides: list[Array | None] = []
    for step in (sigma, -sigma):
        moved = list(values)
        moved[which] += step
        try:
            sides.append(np.asarray(function(moved), dtype=float) - figures)
        except ValueError:
            sides.append(None)
    up, down = sides
    if up is None and down is None:
        raise ValueError("the readings lie at the edge of what the formula can say")
    if up is None or down is None:
        other = np.asarray(up if up is not None else down)
        return (other, -other) if up is not None else (-other, other)
    return up, down
