"""Who comes in: this computer's own page, and phones with a key; nobody else.

After the OWASP cheat sheets on cross-site request forgery and on content security policy, and
RFC 9110 section 15.5.20 (421 for a host that is not ours); from memory.
"""

import pytest
import uvicorn
from served import HOST, client_of

from photomeasure.web.gate import BODY_LIMIT, PAGE_POLICY
from photomeasure.web.keys import COOKIE, KEY_LIFE_S, Keys
from photomeasure.web.serve import Wishes, serve

PHONE = ("192.0.2.7", 40000)
LAN = "192.0.2.1:8474"


def test_another_name_that_leads_here_is_turned_away(client):
    """DNS rebinding: the attacker's name resolves to loopback, but the Host tells."""
    for host in (
        "evil.example:8474",
        "127.0.0.1:80",
        "127.0.0.1",
        "",
        "localhost.evil.example:8474",
    ):
        assert client.get("/api/job", headers={"host": host}).status_code == 421, host


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1:8474"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_another_site_changes_nothing(client, folder, headers):
    """Cross-site requests are refused before anything is looked at."""
    before = (folder / "job.toml").read_bytes()
    stored = client.get("/api/job").json()
    change = {"revision": stored["revision"], "job": {**stored["job"], "title": "taken over"}}
    assert client.put("/api/job", json=change, headers=headers).status_code == 403
    assert client.post("/api/photos?title=a.jpg", content=b"x", headers=headers).status_code == 403
    assert client.post("/api/undo", json={"revision": ""}, headers=headers).status_code == 403
    assert (folder / "job.toml").read_bytes() == before


def test_another_site_reads_nothing_but_may_link_to_the_page(client):
    """A picture tag of another site gets nothing; a link that somebody follows opens the page."""
    cross = {"sec-fetch-site": "cross-site"}
    picture = {**cross, "sec-fetch-mode": "no-cors", "sec-fetch-dest": "image"}
    link = {**cross, "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    frame = {**cross, "sec-fetch-mode": "navigate", "sec-fetch-dest": "iframe"}
    assert client.get("/api/picture?photo=photo", headers=picture).status_code == 403
    assert client.get("/", headers=frame).status_code == 403
    assert client.get("/", headers=link).status_code == 200


def test_our_own_page_comes_in(client):
    """Same origin, as a browser says it."""
    headers = {"origin": f"http://{HOST}", "sec-fetch-site": "same-origin"}
    assert client.post("/api/undo", json={"revision": "x"}, headers=headers).status_code == 409


@pytest.mark.parametrize("path", ["/", "/static/js/main.js", "/api/job", "/api/none", "/none"])
def test_every_answer_carries_the_policy(client, path):
    """Scripts, styles and requests of our own only; no frames, no sniffing, no referrer."""
    headers = client.get(path).headers
    assert headers["content-security-policy"] == PAGE_POLICY
    assert "unsafe" not in PAGE_POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "access-control-allow-origin" not in headers


def test_the_page_holds_no_script_or_style_that_the_policy_forbids(client):
    """Nothing inline, nothing from elsewhere: it works with no internet."""
    page = client.get("/").text
    assert "http://" not in page
    assert "https://" not in page
    assert "<style" not in page
    assert " style=" not in page
    assert "onclick" not in page


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2fpipeline.py",
        "/static//etc/passwd",
        "/static/js/..%5c..%5capp.py",
    ],
)
def test_no_path_leads_out_of_the_page_s_own_files(client, path):
    """Dots, encoded dots and full paths find nothing."""
    answer = client.get(path)
    assert answer.status_code in (404, 405)
    assert "import" not in answer.text


def test_a_job_cannot_name_a_photo_outside_its_folder(client, folder):
    """Neither by dots nor by a link; the file is not read."""
    secret = folder.parent / "secret.jpg"
    secret.write_bytes((folder / "photo.jpg").read_bytes())
    stored = client.get("/api/job").json()
    for file in ("../secret.jpg", str(secret), "C:\\secret.jpg"):
        photos = [{**stored["job"]["photos"][0], "file": file, "sha256": None}]
        change = {"revision": stored["revision"], "job": {**stored["job"], "photos": photos}}
        assert client.put("/api/job", json=change).status_code == 422
    (folder / "linked.jpg").symlink_to(secret)
    text = (folder / "job.toml").read_text().replace("photo.jpg", "linked.jpg")
    (folder / "job.toml").write_text(text)
    assert "leads out" in client.get("/api/job").json()["problem"]
    assert client.get("/api/picture?photo=photo").status_code == 400


def test_a_flood_is_cut_off(client):
    """More than the limit is refused by its length, and counted where no length is given."""
    assert client.put("/api/job", content=bytes(BODY_LIMIT + 1)).status_code == 413
    pieces = (bytes(100_000) for _ in range(BODY_LIMIT // 100_000 + 2))
    assert client.put("/api/job", content=pieces).status_code in (400, 413)


def test_a_phone_comes_in_with_a_key_and_only_once(folder):
    """Without a key nothing; with it a session; the key is then used up."""
    keys = Keys()
    path = folder / "job.toml"
    phone = client_of(path, hosts=(HOST, LAN), keys=keys, peer=PHONE, host=LAN)
    for address in ("/", "/api/job", "/static/js/main.js", "/api/picture?photo=photo"):
        assert phone.get(address).status_code == 401
    key = keys.new()
    entered = phone.get(f"/enter?key={key}", follow_redirects=False)
    assert (entered.status_code, entered.headers["location"]) == (303, "/")
    cookie = entered.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert phone.get("/api/job").status_code == 200
    other = client_of(path, hosts=(HOST, LAN), keys=keys, peer=PHONE, host=LAN)
    assert other.get(f"/enter?key={key}").status_code == 401
    assert other.get("/api/job", headers={"cookie": f"{COOKIE}=guess"}).status_code == 401


def test_no_header_makes_a_phone_this_computer(folder, monkeypatch):
    """Neither the server nor the gate believes who a proxy says is asking."""
    served = {}
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: served.update(c=self.config))
    serve(folder / "job.toml", None, Wishes(port=0, browser=False), lambda words: None)
    assert served["c"].proxy_headers is False
    phone = client_of(folder / "job.toml", keys=Keys(), peer=PHONE)
    for header in ("x-forwarded-for", "x-real-ip", "forwarded"):
        value = "for=127.0.0.1" if header == "forwarded" else "127.0.0.1"
        assert phone.get("/api/job", headers={header: value}).status_code == 401


def test_a_key_grows_old():
    """After its time a key opens nothing."""
    now = [0.0]
    keys = Keys(lambda: now[0])
    key = keys.new()
    now[0] = KEY_LIFE_S + 1
    assert keys.enter(key) is None
    assert not keys.knows(None)


def test_without_lan_no_phone_comes_in(folder):
    """A request that reaches the server from elsewhere, though it listens on loopback only."""
    phone = client_of(folder / "job.toml", peer=PHONE)
    assert phone.get("/api/job").status_code == 401
    assert phone.get("/enter?key=x").status_code in (401, 404)


def test_links_for_phones_are_made_only_with_lan(client, folder):
    """The page's button works when phones may come, and says what to do when not."""
    refused = client.post("/api/door")
    assert refused.status_code == 400
    assert "--lan" in refused.json()["problem"]
    made = client_of(folder / "job.toml", doors=lambda: "http://192.0.2.1:8474/enter?key=k")
    door = made.post("/api/door").json()
    assert door["link"].endswith("key=k")
    assert door["qr"].startswith("<svg")
