"""Who gets in by a plain request: nobody without the token, no other host, no other page."""

from __future__ import annotations

import http.client
import json
from urllib.parse import urlsplit

import nbformat
import pytest
from labpage import TOKEN, Pages

from gradekit.lab.app import most_kernels

PICTURE = b"\x89PNG\r\n\x1a\n"
KERNEL = "/api/kernels/aaaaaaaa-1111-1111-1111-111111111111"
PATHS = (
    "/",
    "/voila/files/steel.png",
    "/voila/static/voila.js",
    "/voila/templates/base/static/voila.js",
    "/voila/render/steel.ipynb",
    "/voila/tree",
    "/voila/api/contents/",
    "/voila/api/themes/@jupyterlab/theme-light-extension/index.css",
    "/voila/labextensions/@jupyter-widgets/jupyterlab-manager/package.json",
    "/voila/api/shutdown/aaaaaaaa",
    KERNEL,
    f"{KERNEL}/channels",
    "/logout",
    "/nowhere",
)


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    home = tmp_path_factory.mktemp("doors")
    folder = home / "notebooks"
    folder.mkdir()
    (folder / "steel.png").write_bytes(PICTURE)
    about = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
    nbformat.write(nbformat.v4.new_notebook(metadata=about), folder / "steel.ipynb")
    server = Pages(home / "server", home, page="steel.ipynb")
    yield server
    server.stop()


def ask(url: str, path: str, method: str = "GET", **headers: str) -> tuple[int, bytes, str]:
    """Return status, content and where it leads to."""
    line = http.client.HTTPConnection(urlsplit(url).netloc, timeout=30)
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    line.request(method, path, headers=named)
    answer = line.getresponse()
    found = answer.status, answer.read(), answer.getheader("Location", "")
    line.close()
    return found


@pytest.mark.parametrize("path", PATHS)
def test_without_the_token_there_is_nothing_but_the_login(pages, path):
    for method in ("GET", "HEAD", "POST"):
        status, content, leads = ask(pages.url, path, method)
        assert status in (302, 403, 404, 405), (method, status)
        assert status != 302 or urlsplit(leads).path == "/login"
        assert PICTURE not in content and b"voila" not in content.lower()


def test_the_token_opens_and_a_wrong_one_does_not(pages):
    assert ask(pages.url, f"/voila/files/steel.png?token={TOKEN}")[1] == PICTURE
    assert ask(pages.url, "/voila/files/steel.png", Authorization=f"token {TOKEN}")[0] == 200
    assert ask(pages.url, "/voila/files/steel.png?token=guess")[0] == 302
    status, _, leads = ask(pages.url, f"/?token={TOKEN}")
    assert status == 302 and leads == f"/voila/render/steel.ipynb?token={TOKEN}"


@pytest.mark.parametrize("host", ["works.example", "localhost.works.example", "127.0.0.1.example"])
def test_another_host_is_refused_with_the_token_and_at_the_login(pages, host):
    for path in (f"/voila/files/steel.png?token={TOKEN}", f"/?token={TOKEN}", "/login"):
        status, content, _ = ask(pages.url, path, Host=host)
        assert status == 403 and PICTURE not in content
    assert ask(pages.url, "/login", Host="localhost")[0] == 200


def test_a_browser_that_is_logged_in_is_believed_only_on_our_own_page(pages):
    line = http.client.HTTPConnection(urlsplit(pages.url).netloc, timeout=30)
    line.request("GET", f"/voila/files/steel.png?token={TOKEN}")
    answer = line.getresponse()
    cookie = answer.getheader("Set-Cookie").partition(";")[0]
    line.close()
    picture, page = "/voila/files/steel.png", "/voila/render/steel.ipynb"
    for site, status in (("same-origin", 200), ("none", 200), ("same-site", 403)):
        assert ask(pages.url, picture, Cookie=cookie, Sec_Fetch_Site=site)[0] == status, site
    assert ask(pages.url, page, Cookie=cookie, Sec_Fetch_Site="cross-site")[0] == 403
    # A browser that says nothing of the kind, by the origin, and else not at all.
    assert ask(pages.url, picture, Cookie=cookie, Origin=pages.url)[0] == 200
    for other in ({}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"}):
        assert ask(pages.url, page, Cookie=cookie, **other)[0] == 403
    kernel = f"/voila/api/shutdown/{KERNEL.rpartition('/')[2]}"
    assert ask(pages.url, kernel, "POST", Cookie=cookie, Sec_Fetch_Site="same-site")[0] == 403


def test_jupyterlab_renders_no_pages_and_shows_no_button_for_it(lab):
    status = ask(lab.url, f"/voila/render/notebooks/00-start-here.ipynb?token={TOKEN}")[0]
    assert status == 404
    page = ask(lab.url, f"/lab?token={TOKEN}")[1].decode()
    config = json.loads(
        page.partition('id="jupyter-config-data"')[2].partition(">")[2].partition("</script>")[0]
    )
    assert any(name.startswith("@voila-dashboards") for name in config["disabledExtensions"])
    assert json.loads(lab.ask("GET", "/api/kernels")) == []


@pytest.mark.parametrize(
    ("memory", "processors", "most"), [(64_000, 2, 10), (1_200, 8, 4), (650, 2, 1), (0, 2, 1)]
)
def test_how_many_pages_follows_from_memory_and_processors(memory, processors, most):
    assert most_kernels(memory, processors) == most
