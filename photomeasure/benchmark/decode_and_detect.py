"""What is the least that any program must do with the photo?

`python -m photomeasure.benchmark.decode_and_detect PHOTO` decodes it and looks for markers
at full size, and nothing else: what the time of the whole command is compared with.
"""

from __future__ import annotations

import sys

import cv2
import numpy as np
from PIL import Image


def main() -> None:
    """Print how many markers are in the photo that the command line names."""
    grey = np.asarray(Image.open(sys.argv[1]).convert("L"))
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    _, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    print(0 if ids is None else len(ids))


if __name__ == "__main__":
    main()
