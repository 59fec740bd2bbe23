"""Body dimensions of ANSUR II 2012 (Gordon et al. 2014, Natick/TR-15/007), in millimetres.

Which rows are confirmed and which secondary: docs/sources.md. Percentiles are of the normal curve.
"""

from __future__ import annotations

from dataclasses import dataclass

Z_95 = 1.645  # the 95th percentile of the normal curve, in standard deviations


@dataclass(frozen=True, slots=True)
class Dimension:
    """Mean and standard deviation of men and of women, in millimetres."""

    men: float
    men_sd: float
    women: float
    women_sd: float

    @property
    def mean(self) -> float:
        """The mean of the two means: the mean body that `path_cm` is written for."""
        return (self.men + self.women) / 2

    @property
    def smallest(self) -> float:
        """A woman at the 5th percentile, as a share of the mean body."""
        return (self.women - Z_95 * self.women_sd) / self.mean

    @property
    def largest(self) -> float:
        """A man at the 95th percentile, as a share of the mean body."""
        return (self.men + Z_95 * self.men_sd) / self.mean


WAIST_BACK = Dimension(477.6, 27.7, 425.4, 26.4)
BIACROMIAL = Dimension(415.7, 19.2, 365.4, 18.3)
INTERSCYE = Dimension(430.9, 35.3, 373.4, 29.8)
HAND = Dimension(193.3, 10.0, 181.1, 10.1)
FOREARM_HAND = Dimension(480.2, 23.3, 439.9, 23.4)
FOOT = Dimension(271.2, 13.1, 246.3, 12.4)
UPPER_ARM = Dimension(335.2, 17.5, 311.2, 17.2)
TROCHANTERION = Dimension(900.9, 49.2, 845.4, 44.7)
EPICONDYLE = Dimension(491.7, 26.6, 465.9, 27.1)
MALLEOLUS = Dimension(72.9, 5.7, 62.8, 5.1)
BICRISTAL = Dimension(275.4, 17.5, 273.3, 22.3)

#: The one-way length of a region on the mean body, in centimetres, worked out from the dimensions.
LENGTH_CM = {
    "back": WAIST_BACK.mean / 10,
    "beside_spine": WAIST_BACK.mean / 10,
    "lower_back": WAIST_BACK.mean / 30,
    "blades": WAIST_BACK.mean / 20,
    "shoulders": BIACROMIAL.mean / 20,
    "chest": BIACROMIAL.mean / 20,
    "between_blades": INTERSCYE.mean / 20,
    "sacrum": BICRISTAL.mean / 20,
    "hips": BICRISTAL.mean * 0.75 / 10,
    "upper_arms": UPPER_ARM.mean / 10,
    "forearms": (FOREARM_HAND.mean - HAND.mean) / 10,
    "hands": HAND.mean / 10,
    "thighs": (TROCHANTERION.mean - EPICONDYLE.mean) / 10,
    "calves": (EPICONDYLE.mean - MALLEOLUS.mean) / 10,
    "feet": FOOT.mean / 10,
}

#: The dimension by which a stroke on a region grows and shrinks with the body. Leg parts scale with
#: the height of their upper end (the SD of a difference of two heights is not published).
SCALES_WITH = {
    "back": WAIST_BACK,
    "beside_spine": WAIST_BACK,
    "lower_back": WAIST_BACK,
    "blades": WAIST_BACK,
    "shoulders": BIACROMIAL,
    "chest": BIACROMIAL,
    "between_blades": INTERSCYE,
    "sacrum": BICRISTAL,
    "hips": BICRISTAL,
    "upper_arms": UPPER_ARM,
    "forearms": FOREARM_HAND,
    "hands": HAND,
    "thighs": TROCHANTERION,
    "calves": EPICONDYLE,
    "feet": FOOT,
}

#: For scalp, face, neck and belly, where no dimension is at hand: the widest spread of all.
WIDEST = INTERSCYE
