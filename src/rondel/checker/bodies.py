"""How much longer or shorter a stroke gets on a large or a small body.

Measures: ANSUR II 2012 (Gordon et al. 2014), millimetres, (male mean, SD, female mean, SD). The
small body is the 5th percentile of women, the large one the 95th of men; 1 is the mean of the two
means, for which `path_cm` is written. Normal spread: 1.645 SD.
"""

from __future__ import annotations

PERCENTILE_5_TO_95 = 1.645

ANSUR_II = {
    "waist back length": (477.6, 27.7, 425.4, 26.4),
    "biacromial breadth": (415.7, 19.2, 365.4, 18.3),
    "interscye": (430.9, 35.3, 373.4, 29.8),
    "hand length": (193.3, 10.0, 181.1, 10.1),
    "forearm-hand length": (480.2, 23.3, 439.9, 23.4),
    "foot length": (271.2, 13.1, 246.3, 12.4),
}

#: The measure that a stroke on each region grows with. Our own pairing: head and legs have no
#: measure with a published spread at hand, so the scalp takes the hand's, the legs the arm's.
REGION_MEASURE = {
    "scalp": "hand length",
    "face": "hand length",
    "neck": "hand length",
    "shoulders": "biacromial breadth",
    "chest": "biacromial breadth",
    "between_blades": "interscye",
    "blades": "interscye",
    "upper_arms": "forearm-hand length",
    "forearms": "forearm-hand length",
    "hands": "hand length",
    "thighs": "forearm-hand length",
    "calves": "forearm-hand length",
    "feet": "foot length",
}
BACK_MEASURE = "waist back length"  # the whole back, and every region not named above


def body_factors(region: str) -> tuple[float, float]:
    """Return what a path on `region` is multiplied by, for a small and for a large body."""
    male, male_sd, female, female_sd = ANSUR_II[REGION_MEASURE.get(region, BACK_MEASURE)]
    mean = (male + female) / 2
    small = female - PERCENTILE_5_TO_95 * female_sd
    large = male + PERCENTILE_5_TO_95 * male_sd
    return small / mean, large / mean
