"""From a lot or an offer to what goes into the pan."""
