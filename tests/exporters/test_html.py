"""The HTML page of a report."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from photomeasure.exporters import EXPORTERS
from photomeasure.records.report import Report
from photomeasure.uncertainty.notation import format_fraction

VOID = {"meta", "link", "br", "img", "hr", "input"}


class _Structure(HTMLParser):
    """Collects tags and text; refuses a closing tag that does not fit."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.text, self.links = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [v for k, v in attrs if k in ("href", "src", "xlink:href")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.text.append(data)


def _read(report: Report) -> tuple[str, _Structure]:
    page = EXPORTERS["html"].render(report).decode("utf-8")
    structure = _Structure()
    structure.feed(page)
    structure.close()
    return page, structure


@pytest.fixture(scope="module")
def page(report):
    return _read(report)


@pytest.fixture(scope="module")
def words(page):
    return re.sub(r"\s+", " ", " ".join(page[1].text))


def test_the_page_is_well_formed_and_needs_nothing_from_outside(page):
    """All tags close, no scripts, and every link is a picture inside the page."""
    text, structure = page
    assert structure.open == []
    assert "script" not in structure.tags
    assert all(link.startswith("data:image/jpeg;base64,") for link in structure.links)
    assert "url(" not in text
    assert "@import" not in text


def test_the_disagreeing_check_stands_above_all_verdicts(words):
    """The flag comes first, then the verdicts, the failing one before the others."""
    flag = words.index("A caliper check disagrees")
    sentence = "3 rules judged: 1 does not conform, 1 cannot be told, 1 conforms."
    summary = words.index(sentence)
    assert flag < summary < words.index("Where it was measured")
    verdicts = words[summary + len(sentence) :]
    order = [verdicts.index(w) for w in ("does not conform", "cannot tell", "advice: not met")]
    assert order == sorted(order)


def test_everything_that_the_report_owes_is_there(report, words):
    """Position, settling, sources, cautions, gaps in the check, hashes and version are told."""
    owed = [
        "position: at rest",
        "What would settle it.",
        "ISO 273, 1979",
        "advises, never fails the job",
        "standard: can fail the job",
        "check bars read 150.12 mm in x",
        "the far rim, at the bottom of the hole, 0.62 mm away",
        "choice = …",
        report.job.photos[0].sha256,
        "photomeasure 0.",
        *report.cautions,
        *report.warnings,
        *report.not_checked,
    ]
    assert [line for line in owed if line not in words] == []


def test_an_unread_print_says_that_an_honest_printer_was_assumed(report):
    """Without bar readings the page says what was assumed instead."""
    _, structure = _read(replace(report, job=replace(report.job, prints=())))
    assert "an honest printer was assumed" in " ".join(structure.text)


def test_no_verdict_ever_says_safe(words):
    """The word is not the program's to say."""
    assert "safe" not in words.lower()


def test_an_inch_fraction_stands_beside_each_length(report, words):
    """The gap's fraction is written as the notation writes it."""
    gap = report.measurements[0].primary
    assert format_fraction(gap.value, gap.expanded) in words


def test_what_a_person_typed_is_escaped(report):
    """A script in title, names, notes or a rule arrives as text."""
    evil = '<script>alert("x")</script>"><img src=x onerror=y>'
    job = replace(report.job, title=evil, note=evil, position=evil)
    rule = replace(report.decisions[0].rule, name=evil, why=evil, source=evil)
    decisions = (replace(report.decisions[0], rule=rule, reason=evil), *report.decisions[1:])
    pin = replace(report.pictures[0])
    text, structure = _read(
        replace(report, job=job, decisions=decisions, warnings=(evil,), pictures=(pin,))
    )
    assert "<script" not in text
    assert "<img" not in text
    assert 'alert("x")' in " ".join(structure.text)


def test_verdicts_have_shapes_of_their_own(page):
    """Ring, octagon and diamond are there, and advice is drawn hollow."""
    classes = set(re.findall(r'class="sign ([a-z ]+)"', page[0]))
    assert classes == {"conforms", "fails", "untold", "fails advice"}


def test_the_longest_budget_bar_belongs_to_the_largest_source(page):
    """Bars are sorted, and each is as long as the share of the variance beside it."""
    table = re.search(r'<table class="budget">.*?</table>', page[0], re.S).group()
    widths = [float(w) for w in re.findall(r'class="length" width="([\d.]+)"', table)]
    told = [int(share) for share in re.findall(r"<td>(\d+) %</td>", table)]
    assert widths == pytest.approx(told, abs=0.51)
    assert told == [61, 19, 11, 8, 1]  # 0.78², 0.44², 0.33², 0.28², 0.10² of their sum
    assert np.all(np.diff(widths) < 0)


def test_a_job_in_inches_is_answered_in_inches(report):
    """Interval, other edges, caliper check and u, mostly with the mm in brackets."""
    inches = replace(report, job=replace(report.job, unit="in"))
    text = re.sub(r"\s+", " ", " ".join(_read(inches)[1].text))
    for line in (
        "95 % interval 0.4361 in to 0.4406 in (11.08 mm to 11.19 mm; Monte Carlo)",
        "the far rim, at the bottom of the hole, 0.024 in (0.62 mm) away",
        "the caliper reads 1.5886 ± 0.0020 in, the photo 1.5",
        "apart, where both uncertainties together allow",
        "0.0010 in",
    ):
        assert line in text


def test_which_edge_was_chosen_is_told_once(report):
    """The cell of a feature with other edges leaves out the warning that says the same."""
    features = report.features.features
    hole = next(f for f in features if f.image.alternatives)
    twice = ("2 edges fit; number 1 was taken. Set `choice` to take another.", "It is dark.")
    told = replace(hole, image=replace(hole.image, warnings=twice))
    rows = tuple(told if f is hole else f for f in features)
    page, _ = _read(replace(report, features=replace(report.features, features=rows)))
    assert "2 edges fit" not in page
    assert "<em>It is dark.</em>" in page


def test_a_report_without_rules_checks_and_pictures_is_still_a_page(report):
    """Nothing judged, nothing checked, nothing drawn: the page says so."""
    bare = replace(report, decisions=(), checks=(), pictures=(), cautions=(), warnings=())
    text = " ".join(_read(bare)[1].text)
    assert "Nothing was judged" in text
    assert "Measured, not judged" in text


def test_words_of_the_job_file_are_set_apart_and_escaped(report):
    """Backticks in a warning become code on the page; a lone one and markup stay text."""
    spoken = replace(report, warnings=("Set `choice` to <2>.", "5` off"))
    page = EXPORTERS["html"].render(spoken).decode()
    assert "<li>Set <code>choice</code> to &lt;2&gt;.</li><li>5` off</li>" in page


def test_offered_rules_and_advice_stand_with_their_measurement(words):
    """What meets, how an offered rule would come out, what it lacks, and advice in words."""
    told = words[words.index("Rules for hose and exhaust: offered, not judged") :]
    assert "hose-to-muffler at least 50 mm advice: not met" in told
    assert "state the hose inside diameter to compare" in told
    assert "The clamp sits beyond the bead." in told[told.index("Look at as well") :]


def test_a_replaced_rule_is_told_in_its_card(report):
    """The card shows the built-in limit, its source and who overrode it."""
    first = replace(report.decisions[0], replaced=report.decisions[2].rule)
    text = " ".join(_read(replace(report, decisions=(first,)))[1].text)
    assert "at least 9 mm (standard; ISO 273, 1979); this job overrides it" in text
    assert "agreed with the mill's owner" in text
