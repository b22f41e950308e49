"""Whatever is said of a part, it is outlined or refused in words; never a mistake of the program.

The fuzz run from the API's document (test_fuzz.py) seldom says anything that makes a part;
here the picture and its boundaries are right, and all that a person may choose is made up.
"""

import io

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image
from served import client_of
from test_outlining import PX_PER_MM, scan

from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.records.job import HAZARDS

EXAMPLES = 60
SAID = {"name": "gasket", "photo": "gasket.png", "scan": {"dpi": 300}}  # 60 x 40 mm, a hole

lengths = st.sampled_from([0.0, 0.001, -0.5, 1e-9, 25.4, -1000.0, 1e6]) | st.floats(-40, 40)
sizes = st.sampled_from([0.001, 0.4, 3.0, 1000.0]) | st.floats(0.01, 60)
angles = st.floats(0, 180, exclude_min=True, exclude_max=True)
places = st.lists(lengths, min_size=2, max_size=2)
names = st.sampled_from(
    ["outline", "H1", "H2", "S1", "opening 1", "a", "蓋", "=1+1", "</svg>", "%%EOF"]
)
lines = st.just("") | names | st.text(st.characters(categories=["L", "N", "P", "S"]), max_size=9)
holes = st.fixed_dictionaries({"name": names, "diameter": st.none() | sizes, "thread": lines})
levels = st.fixed_dictionaries(
    {"name": names, "around": names, "offset": lengths, "height": st.floats(-3, 3)}
)
bends = st.fixed_dictionaries(
    {"start": places, "end": places, "angle": angles, "up": st.booleans(), "inside_radius": sizes}
)
titles = st.fixed_dictionaries({}, optional={"title": lines, "owner": lines, "revision": lines})
tables = st.fixed_dictionaries(
    {"thickness": sizes},
    optional={
        "name": names,
        "tolerance": sizes,
        "offset": lengths,
        "round_corners": st.floats(0, 30),
        "mirror": st.booleans(),
        "shaped": st.lists(names, max_size=2),
        "confirmed": st.lists(names, max_size=2),
        "hazards": st.lists(st.sampled_from(HAZARDS), max_size=2),
        "holes": st.lists(holes, max_size=2),
        "levels": st.lists(levels, max_size=3),
        "bends": st.lists(bends, max_size=2),
        "title": titles,
    },
)


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A folder with a scan of a gasket."""
    browser = client_of(tmp_path_factory.mktemp("fuzzed") / "job.toml")
    out = io.BytesIO()
    Image.fromarray(scan()).save(out, "PNG")
    browser.post("/api/photos?title=gasket.png", content=out.getvalue())
    return browser


def told(answer) -> bool:
    """Whether it is done; if not, it is refused in words."""
    if answer.status_code == 200:
        return True
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["problem"]
    return False


def test_a_part_of_any_kind_is_made_or_refused_in_words(desk):
    """Saved, outlined, written in every format, and its places told."""
    made = 0

    @given(table=tables, at=places)
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def is_made_or_refused(table, at):
        nonlocal made
        revision = next((p["revision"] for p in desk.get("/api/parts").json()), "")
        change = {"revision": revision, "table": {**SAID, **table}}
        if not told(desk.put("/api/part?part=part", json=change)):
            return
        if not told(desk.get("/api/outline?part=part")):
            return
        made += 1
        for format_name in PART_EXPORTERS.names:
            told(desk.get(f"/api/part_file?part=part&format={format_name}"))
        px = [[PX_PER_MM * at[0], PX_PER_MM * at[1]]]
        told(desk.post("/api/part_places?part=part", json={"points_px": px}))

    is_made_or_refused()
    assert made >= EXAMPLES / 10
