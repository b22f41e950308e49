"""The tables of accuracy, coverage and speed: how well does the program reach its goals?

Rendered photos, whose truth is known, go through the same line as a user's. No figure here
passes or fails a test; misses are printed as plainly as hits.
"""
