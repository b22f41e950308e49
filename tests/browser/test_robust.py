"""Two tabs, a tab and an editor, a killed program, a replaced photo: nothing lost in silence."""

import worlds
from hands import wait_until

from photomeasure import files


def retitle(hand, title):
    hand.tap("#step-report")
    hand.page.fill("#fact-title", title)
    hand.page.keyboard.press("Tab")


def title(folder):
    return files.read_job(folder / "job.toml").title


def edited_elsewhere(path):
    """The job as somebody else saved it just now."""
    theirs = path.read_text().replace("Motor flange", "Edited flange")
    path.write_text(theirs)
    return theirs


def test_two_tabs_ask_before_one_writes_over_the_other(program, look, begun):
    """The second tab learns of the first one's change, and the person decides."""
    served = program(begun)
    first, second = look(served.address), look(served.address)
    # The second tab does not look for changes meanwhile, as a tab in the background.
    second.page.route("**/api/revision", lambda route: route.abort())
    retitle(first, "from the first")
    wait_until(lambda: title(begun) == "from the first")
    second.tap("#step-report")
    second.page.fill("#fact-position", "crank upright")
    second.page.keyboard.press("Tab")
    second.page.wait_for_selector("dialog:has-text('changed elsewhere')")
    assert title(begun) == "from the first"
    second.tap("text=Put my change on top")
    wait_until(lambda: files.read_job(begun / "job.toml").position == "crank upright")
    assert title(begun) == "from the first"  # both changes are in the job


def test_leaving_the_other_version_writes_nothing(program, look, begun):
    """Escape keeps what the other one saved."""
    hand = look(program(begun).address)
    hand.page.route("**/api/revision", lambda route: route.abort())
    path = begun / "job.toml"
    hand.tap("#step-report")
    theirs = edited_elsewhere(path)
    retitle(hand, "mine")
    hand.page.wait_for_selector("dialog:has-text('changed elsewhere')")
    hand.page.keyboard.press("Escape")
    hand.page.wait_for_selector("h1:has-text('Edited flange')")
    assert path.read_text() == theirs


def test_what_was_typed_before_a_redraw_is_told_of_once(program, look, begun):
    """A page drawn anew between the typing and the Tab makes one change of it, not two."""
    hand = look(program(begun).address)
    hand.page.route("**/api/revision", lambda route: route.abort())
    hand.tap("#step-report")
    edited_elsewhere(begun / "job.toml")
    hand.page.fill("#fact-title", "mine")
    hand.page.evaluate("import('/static/js/store.js').then((store) => store.set({}))")
    hand.page.keyboard.press("Tab")
    hand.page.wait_for_selector("dialog:has-text('changed elsewhere')")
    hand.page.keyboard.press("Escape")
    hand.page.wait_for_selector("h1:has-text('Edited flange')")
    retitle(hand, "a later one")  # what was queued before would have been saved by now
    wait_until(lambda: title(begun) == "a later one")
    history = [p.read_text() for p in begun.rglob("*.toml")]
    assert not any('title = "mine"' in text for text in history)


def test_a_change_by_hand_shows_up_by_itself(program, look, begun):
    """An editor saves job.toml; the page follows."""
    hand = look(program(begun).address)
    hand.page.wait_for_selector(".figure")
    figure = hand.page.locator("article[aria-label=bore] .figure").first
    before = figure.inner_text()
    path = begun / "job.toml"
    theirs = edited_elsewhere(path)
    hand.page.wait_for_selector("h1:has-text('Edited flange')")
    hand.settled()
    assert hand.page.title() == "Edited flange on the mill – photomeasure"
    assert figure.inner_text() == before
    assert path.read_text() == theirs  # looking at it writes nothing


def test_a_killed_program_loses_nothing_that_was_shown_as_saved(program, look, begun):
    """Killed in mid-work: the page says it is not saved, and saves once it is started again."""
    served = program(begun)
    hand = look(served.address)
    page = hand.page
    retitle(hand, "before the kill")
    page.wait_for_selector("h1:text-is('before the kill')")
    hand.settled()
    served.kill()
    assert title(begun) == "before the kill"
    page.fill("#fact-position", "crank upright")
    page.keyboard.press("Tab")
    page.wait_for_selector("#saved:text-is('Not saved')")
    served.start()
    page.click("#again")
    wait_until(lambda: files.read_job(begun / "job.toml").position == "crank upright")
    hand.settled()
    assert title(begun) == "before the kill"


def test_a_photo_replaced_on_disk_is_told(program, look, begun, tmp_path):
    """The page shows what is wrong instead of numbers of another picture."""
    path = begun / "job.toml"
    sha256 = files.read_photo(begun / "photo.jpg").sha256
    path.write_text(
        path.read_text().replace('file = "photo.jpg"', f'file = "photo.jpg"\nsha256 = "{sha256}"')
    )
    (begun / "photo.jpg").write_bytes(worlds.take(worlds.flange_scene(0.5, seed=9)))
    hand = look(program(begun).address)
    hand.page.wait_for_selector("text=not the one the job was made with")
    assert hand.page.locator(".figure").count() == 0
