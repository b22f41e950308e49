"""Pixels become observations: everything that uses OpenCV or scikit-image lives here."""
