"""photomeasure: millimetres with an honest uncertainty from phone photos of a printed sheet."""

__version__ = "0.1.0"
