"""Which command makes `sample_images/`? `python -m photomeasure.benchmark.make_samples`.

Renders every sample photo, or those named, into its folder with its truth beside it, then
makes the camera record from the board photos and writes the jobs. A preview is a quarter as
wide, for looking at the composition, and makes no jobs.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from photomeasure import files, pipeline
from photomeasure.errors import JobError
from photomeasure.files.cameras import record_copy, render_camera
from photomeasure.files.job_writer import job_text
from photomeasure.records.job import Job
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.phone import develop, jpeg
from photomeasure.synthetic.raytraced import render_linear
from photomeasure.synthetic.sample_jobs import SampleJob, sample_jobs
from photomeasure.synthetic.sample_truth import truth
from photomeasure.synthetic.samples import Sample, samples
from photomeasure.synthetic.scene import Scene

BOARDS = "boards"
RECORD = "pippin-3.json"

_PREVIEW = 4
_RAYS_A_PIXEL = 16
_HEAD = """\
#:schema ../job.schema.json
# A sample job, written by photomeasure.benchmark.make_samples.
"""


def write_photo(sample: Sample, folder: Path, rays_a_pixel: int) -> None:
    """Render one sample; write NAME.jpg into a folder that exists."""
    scene = sample.scene
    light = render_linear(scene, sample.staging, rays_a_pixel)
    picture = jpeg(develop(light, scene.phone, scene.seed), scene.phone)
    (folder / f"{scene.name}.jpg").write_bytes(picture)


def write_truth(scene: Scene, folder: Path) -> None:
    """Write NAME.truth.json."""
    text = json.dumps(truth(scene), indent=1)
    (folder / f"{scene.name}.truth.json").write_text(text + "\n", encoding="utf-8")


def write_record(root: Path) -> Path:
    """Make the camera record from the board photos, as `photomeasure camera` does."""
    photos = sorted((root / BOARDS).glob("*.jpg"))
    found = pipeline.calibrate([files.read_photo(path, path.name) for path in photos])
    record = replace(found.record, name=Path(RECORD).stem)
    path = root / BOARDS / RECORD
    path.write_bytes(render_camera(record))
    return path


def write_job(sample_job: SampleJob, root: Path, record: Path) -> None:
    """Write job.toml into its folder, and the copy of the record that it names."""
    folder = root / sample_job.folder
    kept = record_copy(record) if sample_job.with_record else {}
    job = _with_hashes(sample_job.job, folder, Path(*kept).stem if kept else None)
    files.write_outputs(folder, {**kept, "job.toml": (_HEAD + job_text(job)).encode()})
    for stale in set((folder / "cameras").glob("*.json")) - {folder / name for name in kept}:
        stale.unlink()


def _with_hashes(job: Job, folder: Path, camera: str | None) -> Job:
    photos = tuple(
        replace(p, sha256=files.read_photo(folder / p.file, p.name).sha256, camera=camera)
        for p in job.photos
    )
    return replace(job, photos=photos)


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


def write_photos(asked: Iterable[Sample], root: Path, rays_a_pixel: int, *, small: bool) -> None:
    """Render these samples, each into its folder, telling which."""
    for sample in asked:
        print(f"{sample.folder}/{sample.scene.name}", flush=True)
        folder = root / sample.folder
        folder.mkdir(parents=True, exist_ok=True)
        write_photo(preview(sample) if small else sample, folder, rays_a_pixel)


def write_rest(root: Path) -> None:
    """Everything that follows from the photos: truth, record, schema, jobs."""
    for sample in samples():
        write_truth(sample.scene, root / sample.folder)
    record = write_record(root)
    schema = json.dumps(files.job_schema(), indent=2) + "\n"
    (root / "job.schema.json").write_text(schema, encoding="utf-8")
    for sample_job in sample_jobs():
        write_job(sample_job, root, record)


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description="Make the sample photos and their jobs.")
    parser.add_argument("names", nargs="*", help="photos to render; all when none is given")
    parser.add_argument("--out", type=Path, default=Path("sample_images"))
    parser.add_argument("--rays", type=int, default=_RAYS_A_PIXEL, help="rays a pixel")
    parser.add_argument("--preview", action="store_true", help="small photos only")
    parser.add_argument("--no-photos", action="store_true", help="truth, record and jobs only")
    asked = parser.parse_args()
    if not asked.no_photos:
        write_photos(chosen(asked.names), asked.out, asked.rays, small=asked.preview)
    if not asked.preview:
        write_rest(asked.out)


if __name__ == "__main__":
    main()
