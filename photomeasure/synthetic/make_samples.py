"""Which command makes the sample photos? `python -m photomeasure.synthetic.make_samples`.

Renders every sample, or the ones named, and writes the picture and its truth beside each
other. A preview is a quarter as wide, for looking at the composition.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from photomeasure.errors import JobError
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.phone import develop, jpeg
from photomeasure.synthetic.raytraced import render_linear
from photomeasure.synthetic.sample_truth import truth
from photomeasure.synthetic.samples import Sample, samples
from photomeasure.synthetic.scene import Scene

_PREVIEW = 4
_SAMPLES_A_PIXEL = 16


def write_sample(sample: Sample, folder: Path, samples_a_pixel: int = _SAMPLES_A_PIXEL) -> Path:
    """Render one sample; write NAME.jpg and NAME.truth.json into a folder that exists."""
    scene = sample.scene
    light = render_linear(scene, sample.staging, samples_a_pixel)
    picture = folder / f"{scene.name}.jpg"
    picture.write_bytes(jpeg(develop(light, scene.phone, scene.seed), scene.phone))
    write_truth(scene, folder)
    return picture


def write_truth(scene: Scene, folder: Path) -> None:
    """Write NAME.truth.json."""
    text = json.dumps(truth(scene), indent=1)
    (folder / f"{scene.name}.truth.json").write_text(text + "\n", encoding="utf-8")


def preview(sample: Sample) -> Sample:
    """The same sample a quarter as wide and high."""
    lens = _shrunk(sample.scene.lens)
    return replace(sample, scene=replace(sample.scene, lens=lens))


def _shrunk(lens: Lens) -> Lens:
    return replace(
        lens,
        f_px=lens.f_px / _PREVIEW,
        cx=(lens.cx + 0.5) / _PREVIEW - 0.5,
        cy=(lens.cy + 0.5) / _PREVIEW - 0.5,
        size_px=(lens.size_px[0] // _PREVIEW, lens.size_px[1] // _PREVIEW),
    )


def chosen(names: Sequence[str]) -> list[Sample]:
    """The samples of these names, all when none is given. Raises JobError."""
    known = {sample.scene.name: sample for sample in samples()}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise JobError(f"There is no sample {unknown[0]!r}. Known: {', '.join(known)}.")
    return [known[name] for name in names or known]


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description="Render the sample photos with their truth.")
    parser.add_argument("names", nargs="*", help="samples to render; all when none is given")
    parser.add_argument("--out", type=Path, default=Path("sample_images"))
    parser.add_argument("--samples", type=int, default=_SAMPLES_A_PIXEL, help="rays a pixel")
    parser.add_argument("--preview", action="store_true", help="a quarter as wide and high")
    parser.add_argument("--truth-only", action="store_true", help="write no pictures")
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    for number, sample in enumerate(all_asked := chosen(asked.names), 1):
        print(f"{number}/{len(all_asked)} {sample.scene.name}", flush=True)
        if asked.truth_only:
            write_truth(sample.scene, asked.out)
        else:
            write_sample(preview(sample) if asked.preview else sample, asked.out, asked.samples)


if __name__ == "__main__":
    main()
