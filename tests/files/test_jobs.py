"""A job file is read strictly, and everything wrong with it is told at once."""

import tomllib

import jsonschema
import pytest
from PIL import Image

from photomeasure.errors import JobError, PhotoError
from photomeasure.files import job_schema, load_photo, read_job
from photomeasure.files.jobs import parse_job
from photomeasure.records.job import (
    CheckEntry,
    FeatureEntry,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    Rule,
)

SHA = "0123456789abcdef" * 4

FULL = f"""
format = 1
title = "Motor flange on the mill"
unit = "in"
position = "at rest"
hazards = ["moving"]
note = '''two
lines'''

[[photos]]
name = "left"
file = "photos/left.jpg"
sha256 = "{SHA}"
camera = "{SHA}"

[[prints]]
sheet = "window-a4-A"
bar_x = 149.6
bar_y = "5 57/64 in"
plus_minus = 0.05

[[planes]]
name = "face"
height = "1/4 in"
plus_minus = "0.1 mm"

[[features]]
name = "edge 1"
kind = "edge"
photo = "left"
clicks = [[10, 20.5], [100, 21]]

[[features]]
name = "bore"
kind = "circle"
photo = "left"
plane = "face"
clicks = [[50, 60]]
choice = 2

[[measurements]]
name = "gap 1"
kind = "gap"
of = {{ edge_a = "edge 1", holes = ["bore", "edge 1"] }}
rules = ["finger", "library rule"]
note = "by hand"

[[rules]]
name = "finger"
quantity = "gap"
unit = "in"
at_least = "25 mm"
why = "Fingers get crushed."
source = "a table"
status = "user"

[[checks]]
measurement = "gap 1"
value = "7/16 in"
plus_minus = 0.02
instrument = "caliper"
"""

LEAST = """
title = "t"
[[photos]]
name = "p"
file = "p.jpg"
"""


def problems(text):
    """What is said of a job file with this text."""
    with pytest.raises(JobError) as caught:
        parse_job(text)
    return caught.value.problems


def test_a_job_written_by_hand_becomes_the_record():
    """Every table and key of the layout lands in its record, lengths in millimetres."""
    job = parse_job(FULL)
    assert (job.title, job.unit, job.position) == ("Motor flange on the mill", "in", "at rest")
    assert (job.hazards, job.note) == (("moving",), "two\nlines")
    assert job.photos == (PhotoEntry("left", "photos/left.jpg", SHA, SHA),)
    assert job.prints == (PrintEntry("window-a4-A", 149.6, 5.890625 * 25.4, 0.05),)
    assert job.planes == (PlaneEntry("face", 6.35, 0.1),)
    assert job.features == (
        FeatureEntry("edge 1", "edge", "left", "sheet", ((10.0, 20.5), (100.0, 21.0))),
        FeatureEntry("bore", "circle", "left", "face", ((50.0, 60.0),), 2),
    )
    roles = (("edge_a", ("edge 1",)), ("holes", ("bore", "edge 1")))
    rules = ("finger", "library rule")
    assert job.measurements == (MeasurementEntry("gap 1", "gap", roles, rules, "by hand"),)
    assert job.checks == (CheckEntry("gap 1", 11.1125, "", 0.02, "caliper"),)
    (rule,) = job.rules
    assert rule.at_least == pytest.approx(25 / 25.4)
    assert (rule.unit, rule.at_most, rule.status) == ("in", None, "user")


def test_a_plane_may_be_measured_from_a_card():
    """`on` and `depth` land in the record; a card's own name is a plane without being stated."""
    text = LEAST + (
        '[[planes]]\nname = "gap"\nheight = -0.1\non = "card-50-C"\ndepth = "1/2 in"\nlean = 0.5\n'
        '[[features]]\nname = "f"\nkind = "point"\nphoto = "p"\nplane = "card-25-A"\n'
        "clicks = [[1, 2]]"
    )
    job = parse_job(text)
    assert job.planes == (PlaneEntry("gap", -0.1, 0.2, "card-50-C", 12.7, 0.5),)
    assert job.features[0].plane == "card-25-A"


@pytest.mark.parametrize(
    ("plane", "words"),
    [
        ('name = "gap"\nheight = 1\non = "card-50-Z"', "no sheet or card called"),
        ('name = "gap"\nheight = 1\non = "cards-a4-A"', "Did you mean"),
        ('name = "card-50-C"\nheight = 1', '"card-50-C" is the paper itself'),
        ('name = "gap"\nheight = 1\ndepth = -3', "at least 0 is"),
    ],
)
def test_a_plane_on_what_does_not_exist_is_named(plane, words):
    """Only what can be seen in a photo can be measured from; its name is not free."""
    assert any(words in p for p in problems(LEAST + "[[planes]]\n" + plane))


def test_what_may_be_left_out_has_its_default():
    """A title and a photo make a job; the plane of a feature is the sheet."""
    job = parse_job(LEAST)
    assert (job.unit, job.features, job.measurements, job.rules) == ("mm", (), (), ())
    text = LEAST + '[[features]]\nname = "f"\nkind = "point"\nphoto = "p"\nclicks = [[1, 2]]'
    assert parse_job(text).features[0].plane == "sheet"


FEATURE = '\n[[features]]\nname = "bore"\nkind = "circle"\nphoto = "p"\nclicks = [[1, 2]]\n'
MEASUREMENT = '\n[[measurements]]\nname = "m"\nkind = "diameter"\nof = { circle = "bore" }\n'
RULE = (
    '\n[[rules]]\nname = "r"\nquantity = "gap"\nunit = "mm"\nat_least = 5\nwhy = "w"\n'
    'source = "s"\nstatus = "user"\n'
)
CHECK = '\n[[checks]]\nmeasurement = "m"\nvalue = 1.0\n'
PLANE = '\n[[planes]]\nname = "face"\nheight = 6\n'
PRINT = '\n[[prints]]\nsheet = "window-a4-A"\nbar_x = 150\nbar_y = 150\n'
WHOLE = LEAST + FEATURE + MEASUREMENT + RULE + CHECK + PLANE + PRINT


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("[[1, 2]]", "[[1, nan]]", 'feature "bore", clicks no. 1, no. 2', "NaN is not a number"),
        (
            "[[1, 2]]",
            "[[1, inf]]",
            'feature "bore", clicks no. 1, no. 2',
            "infinity is not a number",
        ),
        ("[[1, 2]]", "[[1, 2, 3]]", 'feature "bore", clicks no. 1', "too long; at most 2"),
        ("[[1, 2]]", "[]", 'feature "bore", clicks', "too short; at least 1"),
        ("[[1, 2]]", '[["1", 2]]', 'feature "bore", clicks no. 1, no. 1', "'1' is not a number"),
        ("[[1, 2]]", "[[true, 2]]", 'feature "bore", clicks no. 1, no. 1', "True is not a number"),
        ("clicks =", "click =", 'feature "bore", click', 'Did you mean "clicks"?'),
        ("clicks =", "click =", 'feature "bore", clicks', '"clicks" is missing'),
        ('title = "t"', 'titel = "t"', "titel", 'Did you mean "title"?'),
        ('title = "t"', 'title = "t"\nformat = 2', "format", "reads format 1"),
        ('title = "t"', 'title = "t"\nunit = "cm"', "unit", "Known: mm, in"),
        ('title = "t"', 'title = "t"\nhazards = ["heet"]', "hazards no. 1", 'mean "heat"'),
        ('title = "t"', 'title = "  t"', "title", "begins or ends with a blank"),
        ('title = "t"', 'title = ""', "title", "empty"),
        ('title = "t"', "title = 7", "title", "7 is not a text"),
        ('kind = "circle"', 'kind = "circel"', 'feature "bore", kind', 'mean "circle"'),
        ('photo = "p"', 'photo = "pp"', 'feature "bore", photo', 'no photo called "pp"'),
        ("clicks =", 'plane = "fase"\nclicks =', 'feature "bore", plane', 'mean "face"'),
        ("clicks =", "choice = 0\nclicks =", 'feature "bore", choice', "at least 1"),
        ("height = 6", 'height = "six"', 'plane "face", height', "not a length"),
        ("height = 6", f'height = "{"9" * 400}"', 'plane "face", height', "not a length"),
        ("height = 6", "height = 6\nplus_minus = -1", 'plane "face", plus_minus', "at least 0"),
        ('name = "face"', 'name = "sheet"', 'plane "sheet", name', "paper itself"),
        ("bar_x = 150", "bar_x = 5.9", 'print "window-a4-A", bar_x', '"5.9 in"'),
        ("bar_x = 150", "bar_x = 105", 'print "window-a4-A", bar_x', "120 to 180 mm"),
        ("of = {", "of = [1] #{", 'measurement "m", of', "kinds` names the roles"),
        ('title = "t"', 'title = "t"\nhazards = "heat"', "hazards", 'Write ["heat"]'),
        ('circle = "bore"', 'circle = "boar"', 'measurement "m", of, circle', 'mean "bore"'),
        ('circle = "bore"', "circle = []", 'measurement "m", of, circle', "too short"),
        (
            'circle = "bore"',
            'circle = ["boar"]',
            'measurement "m", of, circle no. 1',
            "no feature",
        ),
        ("at_least = 5", "", 'rule "r"', "no limit"),
        ("at_least = 5", "at_least = 5\nat_most = 4", 'rule "r"', "Swap them"),
        ('unit = "mm"\n', 'unit = "kg"\n', 'rule "r", unit', "Known: mm, in, deg"),
        (
            'unit = "mm"\nat_least = 5',
            'unit = "deg"\nat_least = "5 mm"',
            'rule "r", at_least',
            "an",
        ),
        ('unit = "mm"\n', 'unit = "times"\n', 'rule "r"', "the size `of`"),
        ('unit = "mm"\n', 'unit = "mm"\ntolerance = "ISO 2768-m"\n', 'rule "r"', "nominal"),
        (
            'unit = "mm"\n',
            'unit = "mm"\ntolerance = "ISO 2768"\n',
            'rule "r", tolerance',
            "Known:",
        ),
        (
            "of = {",
            'between = ["hose", "exhorst"]\nof = {',
            'measurement "m", between no. 2',
            'mean "exhaust"',
        ),
        (
            "of = {",
            "sizes = { bore = 0 }\nof = {",
            'measurement "m", sizes, bore',
            "at least 0.001",
        ),
        ('measurement = "m"', 'measurement = "n"', 'check of "n", measurement', 'called "n"'),
        ('name = "p"', 'name = "p"\nsha256 = "xyz"', 'photo "p", sha256', "not a SHA-256"),
        ("[[photos]]", "[[photos]]\nGPS = 1", 'photo "p", GPS', "not known"),
        ("p.jpg", "../p.jpg", 'photo "p", file', "leads out of the job's folder"),
        ("p.jpg", "/etc/passwd", 'photo "p", file', "full path"),
        ("p.jpg", "C:/photos/p.jpg", 'photo "p", file', "full path"),
        ("p.jpg", "a/..\\\\../p.jpg", 'photo "p", file', "leads out of the job's folder"),
    ],
)
def test_a_bad_field_is_named_with_its_remedy(old, new, place, words):
    """Each mistake is told with the file, the path of the field and plain words."""
    assert old in WHOLE
    said = [p for p in problems(WHOLE.replace(old, new, 1)) if f" {place}" in p]
    assert any(words in p for p in said), problems(WHOLE.replace(old, new, 1))
    assert all(p.startswith("job.toml: ") and p.endswith(".") for p in said)


def test_a_whole_job_has_no_problems():
    """The text that the mistakes above are made in is a job."""
    assert parse_job(WHOLE).measurements[0].of == (("circle", ("bore",)),)


def test_all_problems_are_told_at_once_and_say_whose_field_it_is():
    """Values and references are checked together, and a field tells the name of its table."""
    text = WHOLE.replace("[[1, 2]]", "[[1, nan]]").replace('circle = "bore"', 'circle = "x"')
    said = problems(text.replace('title = "t"', ""))
    assert len(said) == 3
    assert any('feature "bore", clicks no. 1, no. 2: NaN' in p for p in said)


def test_one_picture_is_no_two_photos():
    """Twice the same file, or a copy of it, would look like two photos that agree."""
    again = '[[photos]]\nname = "q"\nfile = "p.jpg"\n'
    (said,) = problems(WHOLE + again)
    assert 'photo "q", file: this is the picture of photo "p" again' in said
    mine = f'file = "p.jpg"\nsha256 = "{"a" * 64}"'
    copy = f'[[photos]]\nname = "q"\nfile = "q.jpg"\nsha256 = "{"a" * 64}"\n'
    (said,) = problems(WHOLE.replace('file = "p.jpg"', mine) + copy)
    assert 'photo "q", sha256: this is the picture of photo "p" again' in said


@pytest.mark.parametrize("table", [FEATURE, MEASUREMENT, RULE, PLANE, PRINT])
def test_names_must_differ(table):
    """A second table of the same name is refused, whatever the table."""
    assert "stands above already" in problems(WHOLE + table)[0]


def test_rules_are_checked_against_those_that_are_known(tmp_path):
    """A rule must be in the job or among those given; without a list it is left alone."""
    path = tmp_path / "job.toml"
    path.write_text(FULL)
    assert read_job(path, ("library rule",)) == read_job(path)
    with pytest.raises(JobError, match='no rule called "library rule"'):
        read_job(path, ())


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"title = ", "not valid TOML"),
        (b"title = 't'\nheight = 4,5", r"line 2, `height = 4,5`, is not valid TOML.*a point"),
        (b"", "title.*missing"),
        (b"title = '\xff'", "UTF-8"),
        (b"a = " + b"[" * 5000, "too deep|not valid TOML"),
        (
            b"title = 't'\nphotos = 3",
            r"3 stands where .*Begin each with \[\[photos\]\]",
        ),
        (b"title = 't'\nphotos = [3]", "3 is not a table"),
        (b"title = 't'\n[photos]\nname = 'p'", r"a table stands where .*\[\[photos\]\]"),
        (b"#" * 5_000_001, "no job file needs"),
    ],
)
def test_a_file_that_is_no_job_is_refused(tmp_path, content, words):
    """Broken, empty, binary, deep and huge files are JobErrors that name the file."""
    path = tmp_path / "job.toml"
    path.write_bytes(content)
    with pytest.raises(JobError, match=words) as caught:
        read_job(path)
    assert str(path) in str(caught.value)


def test_missing_job_and_folder_are_refused(tmp_path):
    """A job file that is not there and a folder are told apart."""
    with pytest.raises(JobError, match="no such job file"):
        read_job(tmp_path / "none.toml")
    with pytest.raises(JobError, match="folder"):
        read_job(tmp_path)


def test_bytes_of_a_windows_editor_are_read(tmp_path):
    """A byte order mark and CRLF line ends change nothing."""
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode())
    assert read_job(path) == parse_job(FULL)


def test_schema_accepts_jobs_and_describes_every_key():
    """Editors accept what the reader accepts, refuse a wrong key, and show help."""
    schema = job_schema()
    checker = jsonschema.Draft202012Validator(schema)
    checker.check_schema(schema)
    for text in (FULL, LEAST, WHOLE):
        assert list(checker.iter_errors(tomllib.loads(text))) == []
    for wrong in ("clicks =|click =", 'kind = "circle"|kind = "disc"', "[[1, 2]]|[[1]]"):
        text = WHOLE.replace(*wrong.split("|"))
        assert list(checker.iter_errors(tomllib.loads(text)))
    for table in schema["$defs"].values():
        assert all(key.get("description") for key in table["properties"].values()), table


def test_photos_stay_inside_the_folder(tmp_path):
    """A link out of the folder is refused while reading the job and while loading."""
    folder = tmp_path / "job"
    folder.mkdir()
    Image.new("RGB", (4, 3)).save(tmp_path / "secret.png")
    (folder / "p.jpg").symlink_to(tmp_path / "secret.png")
    (folder / "job.toml").write_text(LEAST)
    with pytest.raises(JobError, match=r'photo "p", file.*leads out'):
        read_job(folder / "job.toml")
    with pytest.raises(JobError, match="leads out"):
        load_photo(folder / "job.toml", PhotoEntry("p", "../secret.png"))


def test_a_photo_is_loaded_by_its_entry_and_checked_against_its_hash(tmp_path):
    """The photo carries the entry's name; another file under that name is refused."""
    (tmp_path / "photos").mkdir()
    Image.new("RGB", (4, 3), "red").save(tmp_path / "photos/p.png")
    photo = load_photo(tmp_path / "job.toml", PhotoEntry("left", "photos/p.png"))
    assert (photo.name, photo.size_px) == ("left", (4, 3))
    same = PhotoEntry("left", "photos/p.png", photo.sha256)
    assert load_photo(tmp_path, same).sha256 == photo.sha256
    with pytest.raises(PhotoError, match="not the one the job was made with"):
        load_photo(tmp_path, PhotoEntry("left", "photos/p.png", SHA))
    with pytest.raises(PhotoError, match="no such photo"):
        load_photo(tmp_path, PhotoEntry("left", "photos/q.png"))


def test_rule_limits_keep_their_own_unit():
    """A plain number is in the rule's unit, a text is converted to it."""
    rules = parse_job(
        LEAST
        + RULE
        + RULE.replace('"r"', '"s"').replace("at_least = 5", 'at_most = "1/2 in"')
        + RULE.replace('"r"', '"t"').replace('unit = "mm"', 'unit = "deg"')
    ).rules
    assert rules[0] == Rule("r", "gap", "mm", "w", "s", "user", 5.0)
    assert (rules[1].at_most, rules[2].at_least) == (pytest.approx(12.7), 5.0)
