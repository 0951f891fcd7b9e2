"""Minimum of a smooth function: with a gradient, by quasi-Newton steps from a given Hessian; without one where many
points cost little more than one, by Newton steps with differences."""

import numpy as np

from .mixed_equations import NoFit

# Newton decrement (in units of log likelihood) up to which a minimum counts as reached, and at which to stop
CONVERGED, ENOUGH = 1e-6, 1e-12
DIFFERENCE_OF_GRADIENT = 1e-4
# of Newton steps with differences: size of a difference, longest step in a coordinate, steps, decrement of the last
DIFFERENCE, LONGEST_STEP, NEWTON_STEPS, LAST_STEP = 0.02, 1.5, 12, 1e-3


def rough_hessian(function, x):
    """Hessian from forward differences of the gradient; good to about four digits, in little more than half the
    time."""
    steps, (_, gradient) = DIFFERENCE_OF_GRADIENT * np.maximum(np.abs(x), 1e-2), function(x)
    columns = [(function(x + h * unit)[1] - gradient) / h for h, unit in zip(steps, np.eye(len(x)), strict=True)]
    return (np.array(columns) + np.array(columns).T) / 2


def hessian(function, x):
    """Hessian from central differences of the gradient; good to about eight digits."""
    steps = DIFFERENCE_OF_GRADIENT * np.maximum(np.abs(x), 1e-2)
    columns = [
        (function(x + h * unit)[1] - function(x - h * unit)[1]) / (2 * h)
        for h, unit in zip(steps, np.eye(len(x)), strict=True)
    ]
    return (np.array(columns) + np.array(columns).T) / 2


def newton_at_once(function, x):
    """(x, Hessian) close to a minimum by damped Newton steps; `function` gives the values of many points (points, k) at
    once. Raises NoFit where they are not finite."""
    for _ in range(NEWTON_STEPS):
        gradient, curvature = _differences(function, x)
        step = -positive_inverse(curvature) @ gradient
        step *= min(1.0, LONGEST_STEP / np.abs(step).max())
        tried = x + step * (0.5 ** np.arange(6))[:, None]
        if -gradient @ step < LAST_STEP:
            return x, curvature
        x = tried[np.argmin(function(tried))]
    return x, _differences(function, x)[1]


def _differences(function, x):
    """(gradient, Hessian) by central differences, all points at once."""
    k, h = len(x), DIFFERENCE
    unit = h * np.eye(k)
    first, second = np.triu_indices(k, 1)
    points = [x[None], x + unit, x - unit, x + unit[first] + unit[second], x - unit[first] - unit[second]]
    value = function(np.concatenate(points))
    centre, plus, minus, both, neither = np.split(value, np.cumsum([len(part) for part in points])[:-1])
    curvature = np.diag(plus + minus - 2 * centre) / h**2
    # f(x + a + b) + f(x - a - b) - 2 f = h^2 (f_aa + f_bb + 2 f_ab)
    diagonal = curvature.diagonal()
    mixed = ((both + neither - 2 * centre) / h**2 - diagonal[first] - diagonal[second]) / 2
    curvature[first, second] = curvature[second, first] = mixed
    if not np.isfinite(curvature).all():
        raise NoFit("The likelihood is not finite.")
    return (plus - minus) / (2 * h), curvature


def quasi_newton(function, x, start_hessian, iterations=40, enough=ENOUGH):
    """(x, Newton decrement g'H^-1 g) by BFGS with shortened steps; `function` gives (value, gradient).

    Ends with one last step once the decrement is below `enough`, or where no step leads down.
    """
    inverse = positive_inverse(start_hessian)
    value, gradient = function(x)
    for _ in range(iterations):
        decrement = gradient @ inverse @ gradient
        if decrement < enough:
            return x - inverse @ gradient, decrement
        new, new_value, new_gradient = _downhill(function, x, value, -inverse @ gradient)
        if new is None:
            break
        inverse = _updated(inverse, new - x, new_gradient - gradient)
        x, value, gradient = new, new_value, new_gradient
    return x, gradient @ inverse @ gradient


def _downhill(function, x, value, step):
    slack = 1e-11 * abs(value)  # rounding in the value must not stop what the gradient still sees
    for _ in range(12):
        new_value, new_gradient = function(x + step)
        if new_value <= value + slack:
            return x + step, new_value, new_gradient
        step = step / 3
    return None, value, None


def positive_inverse(matrix):
    """Inverse of a symmetric matrix with the sizes of its eigenvalues, none too small."""
    values, vectors = np.linalg.eigh(matrix)
    return vectors / np.maximum(np.abs(values), 1e-8 * np.abs(values).max() or 1.0) @ vectors.T


def _updated(inverse, step, change):
    """BFGS update of the inverse Hessian (Nocedal & Wright 2006, eq. 6.17); skipped where the curvature is not
    positive."""
    curvature = step @ change
    if curvature <= 1e-12 * np.linalg.norm(step) * np.linalg.norm(change):
        return inverse
    left = np.eye(len(step)) - np.outer(step, change) / curvature
    return left @ inverse @ left.T + np.outer(step, step) / curvature
