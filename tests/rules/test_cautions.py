"""What can hurt is cautioned, declared or not, and nothing is ever called safe."""

import pytest

from photomeasure.errors import JobError
from photomeasure.records.job import HAZARDS, FeatureEntry, Job, MeasurementEntry
from photomeasure.rules import RULES
from photomeasure.rules.cautions import CAUTIONS, caution_hazards, cautions


def job(
    title="Bracket on a plate", hazards=(), measurement="gap to guard", feature="edge", between=()
):
    return Job(
        title=title,
        photos=(),
        features=(FeatureEntry(feature, "edge", "p", "sheet", ((0.0, 0.0),)),),
        measurements=(MeasurementEntry(measurement, "gap", (), between=between),),
        hazards=hazards,
    )


def test_every_hazard_has_a_caution():
    """The cautions cover just the hazards a job can name."""
    assert tuple(CAUTIONS) == HAZARDS


def test_no_caution_gives_a_clean_bill():
    """No caution uses the word that only a licensed person may use."""
    assert not any("safe" in text.lower() for text in CAUTIONS.values())


def test_every_caution_defers():
    """Each leaves the judgement to a local code."""
    assert all("local" in text and "code" in text for text in CAUTIONS.values())


@pytest.mark.parametrize("title", ["Spigot of the hopper", "Weld a foot on", "Oil tank lid"])
def test_the_fire_sentence_comes_with_tank_spigot_and_weld(title):
    """HSE INDG314, read as an excerpt: a teaspoon of petrol can explode a drum."""
    said = cautions(job(title=title))
    assert "a teaspoon of petrol can explode a drum" in said[0]


@pytest.mark.parametrize(
    ("between", "hazards"),
    [
        (("hose", "exhaust"), ("heat",)),
        (("fuel hose", "guard"), ("fuel",)),
        (("brake hose", "frame"), ("brakes", "pressure")),
        (("hand", "fan"), ("moving",)),
        (("plate", "guard"), ()),
    ],
)
def test_what_meets_brings_its_caution(between, hazards):
    """An exhaust is hot, a fuel hose holds fuel, a brake hose brakes, though no word says so."""
    assert caution_hazards(job(between=between)) == hazards


def test_declared_hazards_come_in_their_order():
    """Cautions follow the order of HAZARDS, not of the job."""
    assert cautions(job(hazards=("moving", "fuel"))) == (CAUTIONS["fuel"], CAUTIONS["moving"])


def test_a_harmless_job_has_none():
    """A bracket on a plate brings no caution."""
    assert caution_hazards(job()) == ()


@pytest.mark.parametrize(
    ("words", "hazard"),
    [
        ({"title": "Welding a spigot"}, "heat"),
        ({"title": "Petrol can bracket"}, "fuel"),
        ({"measurement": "belt_to_guard"}, "moving"),
        ({"feature": "crank shaft end"}, "moving"),
        ({"title": "Brake lever"}, "brakes"),
        ({"title": "Handlebar stop"}, "steering"),
        ({"title": "Hydraulic ram"}, "pressure"),
        ({"title": "Hoisting eye"}, "lifting"),
    ],
)
def test_words_of_the_job_bring_their_caution(words, hazard):
    """A job that speaks of what can hurt is cautioned though it declares nothing."""
    assert hazard in caution_hazards(job(**words))


@pytest.mark.parametrize("title", ["Caliper check", "Photo shot of a plate", "Fancy tankard"])
def test_like_words_do_not(title):
    """Words that merely contain a hazard's word bring no caution."""
    assert caution_hazards(job(title=title)) == ()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            {"title": "Welding a spigot"},
            "(Told because the title says “welding”; the job's hazards",
        ),
        ({"feature": "crank_shaft end"}, "because feature 'crank_shaft end' says “crank”"),
        ({"between": ("hose", "exhaust")}, "because 'gap to guard' is between hose and exhaust"),
    ],
)
def test_a_caution_that_nobody_declared_says_why_it_is_told(words, told):
    """Where hazards is empty, the words that called a caution up stand at its end."""
    said = cautions(job(**words))
    assert told in said[0]
    assert said[0].split(":")[0] in ("Fuel", "Heat", "Moving parts")


def test_rules_bring_theirs():
    """A rule about an exhaust and fuel cautions a job that says neither."""
    found = caution_hazards(job(), [RULES["exhaust-to-fuel-brake-wiring"]])
    assert {"fuel", "heat", "brakes"} <= set(found)


def test_an_unknown_hazard_is_refused():
    """A hazard that is not known raises JobError with the known ones."""
    with pytest.raises(JobError, match=r"lasers.*Known: fuel"):
        cautions(job(hazards=("lasers",)))
