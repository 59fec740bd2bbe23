"""Variety of techniques, contacts, families and places from block to block."""

from rondel.rules.vary import RULE

CONTACT = 0.2 * RULE.weight  # the next block loads the same contact
FAMILY = 0.15 * RULE.weight  # the next block is of the same family
AGAIN = 0.4 * RULE.weight  # for each earlier use of the technique in the last half hour
PLACE = 0.05 * RULE.weight  # for each earlier block on the region in the last half hour
MAIN_PLACE = 0.02 * RULE.weight  # the same for a main region
WINDOW_SECONDS = 30 * 60
