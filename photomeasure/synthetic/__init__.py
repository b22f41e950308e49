"""Rendered photos whose truth is known: they hold what the estimator does not model."""
