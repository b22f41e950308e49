"""Everything else that the page can change, and the tour: each button does what it says."""

import pytest
import worlds
from hands import wait_until

from photomeasure import files


def job_of(folder):
    return files.read_job(folder / "job.toml")


def shown_mm(page, name):
    """The main number of a measurement as shown, without its ±."""
    return float(
        page.locator(f"article[aria-label='{name}'] .figure").first.inner_text().split()[0]
    )


def test_names_follow_wherever_they_are_used(program, look, begun):
    """A renamed feature stays in its measurement, a renamed measurement keeps its numbers."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    page.click("#features summary")
    page.click("#f-bore")
    page.click("#rename-feature")
    page.fill("#dialog-text", "pilot bore")
    page.keyboard.press("Enter")
    wait_until(lambda: "pilot bore" in {f.name for f in job_of(begun).features})
    page.click("#m-bore")
    page.click("#rename-bore")
    page.fill("#dialog-text", "pilot")
    page.keyboard.press("Enter")
    wait_until(lambda: "pilot" in {m.name for m in job_of(begun).measurements})
    pilot = next(m for m in job_of(begun).measurements if m.name == "pilot")
    assert pilot.of == (("circle", ("pilot bore",)),)
    page.wait_for_selector(".card.chosen .figure")
    assert shown_mm(page, "pilot") == pytest.approx(worlds.BORE_MM, abs=0.3)


def test_a_feature_in_use_goes_only_with_what_it_measures(program, look, begun):
    """The page says what goes with it; undo brings all back."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    page.click("#features summary")
    page.click("#f-upper")
    before = job_of(begun)
    page.click("#delete-feature")
    page.wait_for_selector("dialog:has-text('measured by slot')")
    page.click("dialog .main")
    wait_until(lambda: {m.name for m in job_of(begun).measurements} == {"bore", "bolts"})
    assert {f.name for f in before.features} - {f.name for f in job_of(begun).features} == {
        "upper"
    }
    page.click("#undo:not([disabled])")
    wait_until(lambda: "slot" in {m.name for m in job_of(begun).measurements})
    assert job_of(begun) == before


def test_a_height_that_looks_wrong_warns_and_a_right_one_changes_the_numbers(program, look, begun):
    """4 m instead of 4 mm is doubted before it is kept; 4.5 mm moves the gap."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector("#m-slot")
    hand.settled()
    before = page.inner_text("article[aria-label=slot] .figure")
    page.click("#heights summary")
    page.click("#height-top")
    page.fill("#height-mm", "400")
    page.click("dialog .main")
    page.wait_for_selector("#height-said:has-text('Is the unit right?')")
    assert job_of(begun).planes[0].height_mm == 4.0
    page.fill("#height-mm", "8")
    page.click("dialog .main")
    wait_until(lambda: job_of(begun).planes[0].height_mm == 8.0)
    hand.settled()
    assert page.inner_text("article[aria-label=slot] .figure") != before


def test_inches_hazards_and_notes_are_kept(program, look, begun):
    """The facts of the job; numbers change their unit at once."""
    hand = look(program(begun).address)
    page = hand.page
    page.click("#step-report")
    page.click("#unit-in")
    wait_until(lambda: job_of(begun).unit == "in")
    page.check("#hazard-moving")
    wait_until(lambda: job_of(begun).hazards == ("moving",))
    page.wait_for_selector(".caution:has-text('Moving parts')")
    page.fill("#fact-note", "measured cold")
    page.keyboard.press("Tab")
    wait_until(lambda: job_of(begun).note == "measured cold")
    page.click("#step-point")
    page.wait_for_selector(".figure:has-text(' in')")
    assert 25.4 * shown_mm(page, "bore") == pytest.approx(worlds.BORE_MM, abs=0.3)


def test_what_meets_brings_up_rules_that_judge_only_when_picked(program, look, begun):
    """Two things that meet, the rules for them, and one of them picked."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector("#m-slot")
    page.click("#m-slot")
    page.click("[id='meets-slot'] summary")
    page.select_option("#between-0", "soft-mounted engine")
    wait_until(lambda: job_of(begun).measurements[0].between == ("soft-mounted engine",))
    page.select_option("#between-1", "fixed part")
    offer = page.locator("[id^='offer-']").first
    offer.wait_for()
    name = offer.get_attribute("id").removeprefix("offer-")
    assert job_of(begun).measurements[0].rules == ()
    offer.click()
    wait_until(lambda: job_of(begun).measurements[0].rules == (name,))
    page.wait_for_selector(f".card.chosen .verdict:has-text('{name}')")
    page.click(f"[id='unrule-{name}']")
    wait_until(lambda: job_of(begun).measurements[0].rules == ())


def test_a_photo_leaves_the_job_but_not_the_folder(program, look, begun, tmp_path):
    """Asked first, with what goes with it; the file stays."""
    hand = look(program(begun).address)
    page = hand.page
    page.click("#step-photograph")
    page.click("article[aria-label=photo] button:text-is('Remove')")
    page.wait_for_selector("dialog:has-text('features were touched in it')")
    page.click("dialog .main")
    page.wait_for_selector(".begin, .drop")
    wait_until(lambda: job_of(begun).photos == ())
    assert (begun / "photo.jpg").exists()


def test_a_sheet_comes_as_a_pdf(program, look, tmp_path):
    """From the empty page to something to print."""
    hand = look(program(tmp_path / "new").address)
    page = hand.page
    page.click("text=Choose a sheet")
    with page.expect_download() as saved:
        page.click("a.button:has-text('PDF')")
    assert saved.value.path().read_bytes().startswith(b"%PDF")


def test_the_tour_leads_over_the_sample_and_back(program, look, tmp_path):
    """The sample is tried out elsewhere; one's own folder stays as empty as it was."""
    folder = tmp_path / "new"
    served = program(folder)
    hand = look(served.address)
    page = hand.page
    page.click("text=Try it on a sample job")
    page.wait_for_selector(".tour:has-text('1 of 4')", timeout=60000)
    page.wait_for_selector(".figure", timeout=60000)
    for stop in (2, 3, 4):
        page.click("#tour-on")
        page.wait_for_selector(f".tour:has-text('{stop} of 4')")
    page.fill("#fact-title", "tried out")
    page.keyboard.press("Tab")
    page.wait_for_selector("h1:text-is('tried out')")
    page.click("text=To my own job")
    page.wait_for_selector(".begin")
    assert page.url == served.address
    assert not (folder / "job.toml").exists()


def test_a_thing_of_known_size_is_pointed_at(program, look, begun, clicks):
    """Its size is typed, its ends are touched; it goes with its photo."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    page.click("#scales summary")
    page.click("#new-scale")
    page.select_option("#scale-kind", "distance")
    page.fill("#scale-length", "75")
    page.fill("#scale-pm", "0.1")
    page.select_option("#scale-ends", "circle")
    page.click("#scale-touch")
    page.wait_for_selector("#ask .what:has-text('both ends')")
    for px in clicks["bore"][:2]:
        hand.touch(px)
    wait_until(lambda: len(job_of(begun).scales) == 1)
    scale = job_of(begun).scales[0]
    assert (scale.kind, scale.length_mm, scale.plus_minus_mm) == ("distance", 75.0, 0.1)
    assert (scale.photo, scale.ends) == ("photo", "circle")
    assert abs(scale.clicks_px[0][0] - clicks["bore"][0][0]) < 5
    hand.tap("#step-photograph")
    page.click("text=Remove")
    page.click("dialog .main")
    wait_until(lambda: job_of(begun).photos == ())
    assert job_of(begun).scales == ()


def test_a_number_read_by_hand_is_judged_and_taken_away(program, look, begun):
    """Where no photo can look: typed, judged by an own limit, changed, deleted with its limit."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    page.click("#by-hand")
    page.fill("#reading-name", "gap behind")
    page.fill("#reading-value", "3,2")
    page.select_option("#reading-with", "feeler gauge")
    page.click("dialog .main")
    wait_until(lambda: len(job_of(begun).readings) == 1)
    reading = job_of(begun).readings[0]
    assert (reading.value, reading.quantity, reading.instrument) == (3.2, "gap", "feeler gauge")
    page.click("[id='m-gap behind']")
    page.click("[id='rule-gap behind']")
    page.fill("#own-least", "3")
    page.fill("#own-why", "the belt rubs")
    page.click("text=Judge by my limit")
    page.wait_for_selector("article[aria-label='gap behind'] .verdict b:text-is('conforms')")
    page.click("[id='change-gap behind']")
    page.fill("#reading-value", "2.8")
    page.click("dialog .main")
    page.wait_for_selector("article[aria-label='gap behind'] b:text-is('does not conform')")
    page.click("[id='change-gap behind']")
    page.click("#delete-reading")
    wait_until(lambda: job_of(begun).readings == ())
    assert job_of(begun).rules == ()


def test_readings_of_two_numbers_of_one_measurement_stand_side_by_side(program, look, begun):
    """A feeler gauge for the gap leaves the caliper's reading of another number where it is."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    page.click("#m-bolts")
    page.click("[id='check-bolts'] summary")
    quantities = page.locator("#check-quantity option").evaluate_all(
        "all => all.map(o => o.value)"
    )
    for quantity, value in ((quantities[0], "75"), (quantities[1], "1.5")):
        page.select_option("#check-quantity", quantity)
        page.fill("#check-value", value)
        count = len(job_of(begun).checks)
        page.click("[id='check-bolts'] form button")
        wait_until(lambda: len(job_of(begun).checks) == count + 1)  # noqa: B023
    assert {c.value_mm for c in job_of(begun).checks} == {75.0, 1.5}


def test_half_typed_text_outlives_what_else_happens_on_the_page(program, look, begun):
    """Two fields are filled when somebody else saves the job: both stay as they were typed."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    hand.tap("#step-print")
    page.fill("#bar-x", "149.6")
    page.fill("#bar-y", "150.1")
    path = begun / "job.toml"
    path.write_text(path.read_text().replace("Motor flange", "Edited flange"))
    page.wait_for_selector("h1:has-text('Edited flange')")
    hand.settled()
    assert page.input_value("#bar-x") == "149.6"
    assert page.input_value("#bar-y") == "150.1"
    hand.tap("#keep-bars")
    wait_until(lambda: any(p.bar_x_mm == 149.6 for p in job_of(begun).prints))
    page.wait_for_function("() => document.getElementById('bar-x').value === ''")
    assert page.input_value("#bar-y") == ""


def test_what_was_typed_before_the_page_was_drawn_anew_is_saved_when_left(program, look, begun):
    """Numbers come in while a title is typed: it is saved by Tab all the same."""
    hand = look(program(begun).address)
    page = hand.page
    page.click("#step-report")
    page.fill("#fact-title", "flange of the mill")
    page.evaluate("import('./static/js/store.js').then((store) => store.set({ saved: 'saved' }))")
    page.wait_for_timeout(300)
    assert page.input_value("#fact-title") == "flange of the mill"
    page.keyboard.press("Tab")
    wait_until(lambda: job_of(begun).title == "flange of the mill")
    page.wait_for_selector("h1:text-is('flange of the mill')")


def test_a_selection_is_still_replaced_after_the_page_was_drawn_anew(program, look, begun):
    """A title is selected when numbers come in: what is typed then takes its place."""
    hand = look(program(begun).address)
    page = hand.page
    page.click("#step-report")
    page.locator("#fact-title").select_text()
    page.evaluate("import('./static/js/store.js').then((store) => store.set({ saved: 'saved' }))")
    page.wait_for_timeout(300)
    page.keyboard.type("other")
    page.keyboard.press("Tab")
    wait_until(lambda: job_of(begun).title == "other")
    assert page.input_value("#fact-title") == "other"
