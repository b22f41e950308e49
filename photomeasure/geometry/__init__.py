"""Geometry in numpy and scipy only: camera model, poses, fits, distances. Sees no pixels."""
