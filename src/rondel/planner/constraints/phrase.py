"""Passages begin on phrases of the track."""

from rondel.rules.phrase import RULE

#: One passage that begins beside the phrases: a tenth of the weight, since there are many.
SHARE = 0.1
COST = SHARE * RULE.weight
