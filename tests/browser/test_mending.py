"""What weakens a number is mended from its card; the rules that fit best stand first."""

from dataclasses import replace

import pytest
import worlds
from hands import DESK, PHONE

from photomeasure import files
from photomeasure.rules import RULES


def change(folder, how):
    path = folder / "job.toml"
    files.write_job(how(files.read_job(path, RULES.names)), path)


def on_the_paper(job):
    """Nobody read the bars, nobody said how high the edges lie."""
    low = tuple(
        replace(f, plane="sheet") if f.name in ("upper", "lower") else f for f in job.features
    )
    return replace(job, features=low, prints=())


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_a_card_says_what_weakens_its_number_and_leads_to_the_remedy(program, look, begun, how):
    """A height that is there already is taken; the bars are entered where sheets are printed."""
    change(begun, on_the_paper)
    hand = look(program(begun).address, how)
    page = hand.page
    page.wait_for_selector("text=Print not checked. Taken as flat on the paper.")
    hand.tap("#m-slot")
    page.wait_for_selector("#mend-height")
    before = page.locator(".card.chosen .figure").first.inner_text()
    hand.tap("#mend-height")
    hand.tap(f"dialog button:has-text('{worlds.TOP}')")
    page.wait_for_selector("#mend-height", state="detached")
    hand.settled()
    assert page.locator(".card.chosen .figure").first.inner_text() != before
    hand.tap("#mend-bars")
    page.fill("#bar-x", "150.45")
    page.fill("#bar-y", "149.7")
    hand.tap("#keep-bars")
    page.wait_for_selector("text=window-a4-A: 150.45 and 149.7")
    hand.tap("#step-point")
    page.wait_for_selector("#m-slot")
    page.wait_for_selector("text=Print not checked", state="detached")
    assert page.locator("#mend-bars").count() == 0


def test_a_photo_that_is_renamed_keeps_what_was_touched_in_it(program, look, begun):
    hand = look(program(begun).address, DESK)
    hand.tap("#step-photograph")
    hand.tap("#rename-photo")
    hand.page.fill("#dialog-text", "from the left")
    hand.tap("dialog .main")
    hand.page.wait_for_selector(".photo h3:text-is('from the left')")
    hand.settled()
    job = files.read_job(begun / "job.toml", RULES.names)
    assert [p.name for p in job.photos] == ["from the left"]
    assert {f.photo for f in job.features} == {"from the left"}


def test_rules_that_speak_of_what_is_measured_stand_first(program, look, begun):
    """Of dozens of rules for gaps those for a fan are offered first where a fan is measured."""

    def named(job):
        first = replace(job.measurements[0], name="fan to cooler")
        return replace(job, measurements=(first, *job.measurements[1:]))

    change(begun, named)
    hand = look(program(begun).address, DESK)
    hand.page.wait_for_selector("[id='m-fan to cooler']")
    hand.tap("[id='m-fan to cooler']")
    hand.tap("[id='rule-fan to cooler']")
    first = hand.page.locator("#rule-list article button").first.inner_text()
    assert "fan-to-cooler" in first
