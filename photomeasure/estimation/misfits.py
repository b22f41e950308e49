"""Are corners missed by more than they are in doubt, in no pattern that has a name?

Paper that ripples is followed in part; what is left widens every interval (see `views`). Beyond
a certain size it says that the paper under the parts may lie anyhow, and no number is given.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from photomeasure.estimation.joint import Sighting
from photomeasure.estimation.views import Fit, corner_doubt_px
from photomeasure.geometry.camera import plane_from_image

_TIMES = 1.5  # their doubt: more than noise, lens or a crop
_MOST_MM = 0.03  # rms: ripples 0.5 mm high; paper laid on a table leaves a tenth of it


@dataclass(frozen=True)
class Misfit:
    """Corners of one sighting that are missed. missed_px, missed_mm : rms; times : their doubt."""

    photo: str
    sheet: str
    missed_px: float
    missed_mm: float
    times: float

    @property
    def breaks_the_promise(self) -> bool:
        """Whether more is wrong than what is left over can tell."""
        return self.missed_mm > _MOST_MM

    @property
    def words(self) -> str:
        """What is seen, the limit and the remedy."""
        return (
            f"{self.photo}: the corners of {self.sheet} are missed by {self.missed_px:.2f} px "
            f"rms ({self.missed_mm:.3f} mm; at most {_MOST_MM:g} mm can be), {self.times:.1f} "
            "times their doubt. Its paper is probably not flat, or was torn: print it anew and "
            "stick it to something flat."
        )


def misfits(found: Sequence[Sighting], fit: Fit) -> Iterator[Misfit]:
    """Those of the sightings as they went into the fit, with the doubt stated of them."""
    for k, (sighting, used) in enumerate(zip(found, fit.unknowns.sightings, strict=True)):
        misses = fit.unknowns.misses_px(fit.vector, k)
        missed_px = float(np.sqrt(np.mean(misses**2)))
        times = missed_px / corner_doubt_px(sighting)
        if times > _TIMES and sighting.observation.is_printed:
            view, at = fit.unknowns.view(fit.vector, k), used.observation.saddles_px
            apart = plane_from_image(at + misses, view, 0.0) - plane_from_image(at, view, 0.0)
            missed_mm = float(np.sqrt(np.mean(apart**2)))
            yield Misfit(sighting.photo, sighting.observation.sheet, missed_px, missed_mm, times)
