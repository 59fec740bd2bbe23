"""How sure a share is: of so many people, so many did.

Wilson's score interval (E. B. Wilson 1927, Journal of the American Statistical Association
22:209-212), and the interval of a difference of two shares made from two of these (R. G. Newcombe
1998, Statistics in Medicine 17:873-890, method 10).
"""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

USUAL = 0.95


def normal_quantile(confidence: float) -> float:
    """Return how many standard deviations each way hold the share `confidence` of all cases.

    >>> round(normal_quantile(0.95), 3)
    1.96
    """
    return NormalDist().inv_cdf(0.5 + confidence / 2)


def wilson(hits: int, of: int, confidence: float = USUAL) -> tuple[float, float]:
    """Return the interval, 0 to 1, of the true share where `hits` of `of` were counted.

    ValueError unless 0 ≤ hits ≤ of and of is at least 1.
    """
    if not 0 <= hits <= of or of < 1:
        raise ValueError("hits must lie between nothing and all, of one or more")
    z = normal_quantile(confidence)
    share = hits / of
    middle = share + z * z / (2 * of)
    reach = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    whole = 1 + z * z / of
    low = 0.0 if hits == 0 else (middle - reach) / whole
    high = 1.0 if hits == of else (middle + reach) / whole
    return low, high


def difference(
    one: tuple[int, int], other: tuple[int, int], confidence: float = USUAL
) -> tuple[float, float]:
    """Return the interval of the share `one` less the share `other`; each is (hits, of).

    The two groups of people are taken as different people.
    """
    (a, n), (b, m) = one, other
    p, q = a / n, b / m
    (low_p, high_p), (low_q, high_q) = wilson(a, n, confidence), wilson(b, m, confidence)
    below = sqrt((p - low_p) ** 2 + (high_q - q) ** 2)
    above = sqrt((high_p - p) ** 2 + (q - low_q) ** 2)
    return p - q - below, p - q + above
