"""Logistic regression of sparse features by regularised maximum likelihood, as the builders of weights fit it."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.optimize


def fit(matrix: Any, means: Any, weight: Any, *, ridge: float, rare: int, iterations: int = 40) -> tuple[Any, float]:
    """Weights of each column of a sparse matrix, and an offset.

    means: of each row whether it is so; weight: what it counts; ridge: how much weights are held down; rare: a column of
    fewer rows is left out.
    """
    used = np.flatnonzero(matrix.getnnz(axis=0) >= rare)
    small = matrix[:, used].tocsr()
    turned = small.T.tocsr()

    def loss(v: Any) -> tuple[float, Any]:
        sums = small @ v[:-1] + v[-1]
        chances = 1 / (1 + np.exp(-np.clip(sums, -40, 40)))
        slope = weight * (chances - means)
        value = (weight * np.logaddexp(0, np.where(means > 0, -sums, sums))).sum() + ridge / 2 * (v[:-1] @ v[:-1])
        return float(value), np.append(turned @ slope + ridge * v[:-1], slope.sum())

    best = scipy.optimize.minimize(
        loss, np.zeros(len(used) + 1), jac=True, method="L-BFGS-B", options={"maxiter": iterations, "maxcor": 6}
    ).x
    weights = np.zeros(matrix.shape[1])
    weights[used] = best[:-1]
    return weights, float(best[-1])
