"""What a routine asks of the giver's own hands: relative load, never a verdict."""
