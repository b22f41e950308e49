"""What can a person do about a source of uncertainty, in a garage?"""

from __future__ import annotations

from collections.abc import Iterable

from photomeasure.estimation.features import EDGE, HEIGHT, LEAN, NOISE, TONE
from photomeasure.estimation.honest import MISFIT
from photomeasure.estimation.joint import CORNERS, FLATNESS, LENS_BELIEF, PRINT_SCALE

_REMEDIES: dict[str, str] = {
    PRINT_SCALE: "read both check bars of the print with a caliper and enter them",
    LENS_BELIEF: "use a camera record (`photomeasure camera`), or add photos from other sides",
    FLATNESS: "stick the sheet to something flat",
    CORNERS: "come closer, with the whole sheet in sight, sharp and evenly lit",
    HEIGHT: "measure the height of that face with a caliper and write its smaller plus_minus",
    LEAN: "stick the card flat on its face and state a smaller lean",
    EDGE: "take the photo from nearer, straight above that edge",
    NOISE: "bring more light, and come closer",
    TONE: "take the photo in soft, even light, with no portrait or night mode",
    MISFIT: "mend first what the warnings say of the sheet",
}


def remedy_words(sources: Iterable[str]) -> str:
    """The end of a sentence: what would make these sources of a budget smaller.

    Sources that no photo has, such as an instrument, have no remedy here: only ".".
    """
    known = [(name, _REMEDIES[name]) for name in sources if name in _REMEDIES]
    if len(known) == 1:
        return f": {known[0][1]}."
    return "".join([".", *(f" {name[:1].upper()}{name[1:]}: {told}." for name, told in known)])
