"""Flat parts as closed profiles of lines and arcs: made from contours, shaped, checked."""
