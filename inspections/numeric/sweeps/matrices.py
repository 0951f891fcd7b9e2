"""From the number pairs of a Touchstone file to S parameters for 50 ohm."""

import numpy as np

from .number_words import SWEEP_AGAIN
from .option_line import STANDARD_OHM

# columns of pairs as (row, column) of the matrix; Touchstone 2.0, [Two-Port Data Order] and [Matrix Format]
ONE_PORT = ((0, 0),)
S21_FIRST = ((0, 0), (1, 0), (0, 1), (1, 1))
S12_FIRST = ((0, 0), (0, 1), (1, 0), (1, 1))
LOWER = ((0, 0), (1, 0), (1, 1))
UPPER = ((0, 0), (0, 1), (1, 1))


def s_parameters(rows, columns, option):
    """S parameters (points, ports, ports) of `rows` [(line, numbers)], whose pairs stand in `columns`."""
    numbers = np.array([numbers[1:] for _line, numbers in rows])
    first, second = numbers[:, 0::2], numbers[:, 1::2]
    if option.format == "MA":
        _refuse_negative(rows, first)
    pairs = _complex(first, second, option.format)
    s = np.zeros((len(rows), *[2 if len(columns) > 1 else 1] * 2), dtype=complex)
    for pair, (row, column) in enumerate(columns):
        s[:, row, column] = pairs[:, pair]
        if len(columns) == len(LOWER):
            s[:, column, row] = pairs[:, pair]
    s = for_standard_reference(s, option.reference_ohm)
    _refuse_infinite(rows, s)
    return s


def _complex(first, second, format):
    with np.errstate(over="ignore", invalid="ignore"):
        if format == "RI":
            return first + 1j * second
        magnitude = 10 ** (first / 20) if format == "DB" else first
        return magnitude * np.exp(1j * np.deg2rad(second))


def for_standard_reference(s, reference_ohm):
    """The same network seen from 50 ohm at each port, of real references `reference_ohm`.

    With waves a + b = V / √R and a − b = I √R at each port, a' = K (a − Γ b) and b' = K (b − Γ a), where
    Γ = (50 − R) / (50 + R) and K = 1 / √(1 − Γ²), both diagonal; so S' = K (S − Γ) (1 − Γ S)⁻¹ K⁻¹.
    """
    ports = s.shape[-1]
    ohm = np.broadcast_to(np.asarray(reference_ohm, dtype=float), ports)
    if np.all(ohm == STANDARD_OHM):
        return s
    gamma = (STANDARD_OHM - ohm) / (STANDARD_OHM + ohm)
    with np.errstate(all="ignore"):
        k = 1 / np.sqrt(1 - gamma**2)
        inverse = _inverse(np.eye(ports) - gamma[:, None] * s)
        return (s - np.diag(gamma)) @ inverse * (k[:, None] / k[None, :])


def _inverse(matrices):
    """Of (points, 1, 1) or (points, 2, 2); not finite where there is none."""
    if matrices.shape[-1] == 1:
        return 1 / matrices
    (a, b), (c, d) = np.moveaxis(matrices, 0, -1)
    return np.moveaxis(np.array([[d, -b], [-c, a]]) / (a * d - b * c), -1, 0)


def _refuse_negative(rows, magnitude):
    wrong = np.flatnonzero((magnitude < 0).any(axis=1))
    if len(wrong):
        rows[wrong[0]][0].refuse(
            "a magnitude cannot be negative, so the numbers are not magnitude and angle (MA).",
            "Say on the line with # what they are, perhaps RI or DB, or save the sweep again.",
        )


def _refuse_infinite(rows, s):
    wrong = np.flatnonzero(~np.isfinite(s).all(axis=(1, 2)))
    if len(wrong):
        rows[wrong[0]][0].refuse("the numbers give no finite S parameters.", SWEEP_AGAIN)
