"""How far to trust a number: propagation, Monte Carlo, coverage, and how it is written."""
