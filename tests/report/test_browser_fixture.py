"""The browser fixture itself: it must hear and see what it is there to catch."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser
HEAD = "<!doctype html><html lang='en'><head><title>t</title></head><body><main><h1>t</h1>"


def test_a_clean_page_passes(visit):
    seen = visit(HEAD + "<p>calm</p></main></body></html>", width=360)
    seen.check()
    assert seen.requests == []


def test_faults_are_heard_and_seen(visit):
    seen = visit(
        HEAD + "<img src='data:image/png;base64,AA'><p style='width:900px'>wide</p></main>"
        "<script>console.error('boo'); throw new Error('bang')</script></body></html>",
        width=360,
    )
    assert any("boo" in item for item in seen.problems)
    assert any("bang" in item for item in seen.problems)
    assert any("scrolls sideways" in item for item in seen.look())
    assert any("image-alt" in item for item in seen.axe())


@pytest.fixture
def found(visit):
    """What is found on a page of such a body; one after the other in one tab."""
    seen = visit("about:blank")

    def look(body, style="", mode="light"):
        seen.page.emulate_media(color_scheme=mode)
        seen.page.set_content(f"{HEAD}<style>{style}</style>{body}</main></body></html>")
        return seen.look()

    return look


def test_faint_text_is_seen_and_readable_text_passes(found):
    style = "p { color: rgb(118, 118, 118); background: white }"  # 4.54 to one
    assert found("<p>grey</p>", style) == []
    assert "contrast of 4.48" in found("<p>grey</p>", style.replace("118", "119"))[0]
    assert found("<p>large</p>", "p { color: #949494; font-size: 24px }") == []
    assert found("<p>large</p>", "p { color: #949494; font-size: 23px }")
    assert found("<p>thin</p>", "p { opacity: 0.5 }")
    assert found("<p>mixed</p>", "p { color: color-mix(in oklab, black 20%, white) }")
    assert found("<p><b>in</b></p>", "p { background: #0008 } b { color: #555 }")
    assert found("<p>black</p>", "html { background: #111 } p { color: #000 }")
    assert found("<label>a<input value='b'></label>", "input { color: #aaa }")
    assert found("<label>a<input placeholder='b'></label>", "::placeholder { color: #aaa }")
    assert found("<button disabled>b</button>", "button { color: #aaa }") == []
    only_dark = "@media (prefers-color-scheme: dark) { html { background: #222 } }"
    assert found("<p>day</p>", only_dark) == []
    assert found("<p>night</p>", only_dark, "dark")


@pytest.mark.parametrize(("inside", "reached"), [
    ("<p>text</p>", False), ("<button>b</button>", True), ("<button disabled>b</button>", False),
])  # fmt: skip
@pytest.mark.parametrize("turn", ["width", "height"])
def test_what_scrolls_must_be_reached_by_a_key(found, inside, reached, turn):
    style = f"div {{ {turn}: 90px; overflow: auto }} i {{ display: block; {turn}: %spx }}"
    body = f"<div>{inside}<i></i></div>"
    assert (found(body, style % 300) == []) == reached
    assert found(body.replace("<div>", "<div tabindex='0'>"), style % 300) == []
    assert found(body, style % 10) == []


def test_a_link_in_a_text_is_told_by_more_than_colour(found):
    bare = "a { color: %s; text-decoration: none } p { color: #000 }"
    said = "<p>go <a href='#a'>there</a> now</p>"
    assert "by colour alone" in found(said, bare % "#595959")[0]  # 2.998 to one
    assert found(said, bare % "#5a5a5a") == []  # 3.04
    assert found(said, "a, p { color: #000 }") == []  # underlined
    assert found(said, bare % "#111" + "a { border-bottom: 1px solid }") == []
    assert found("<p><a href='#a'>there</a></p>", bare % "#111") == []  # no text beside it
    assert found("<p><span>or <a href='#a'>there</a></span></p>", bare % "#111")
    assert found(said, bare % "#111" + "a { display: block }") == []


def test_mode_reaches_the_page(visit):
    script = "() => matchMedia('(prefers-color-scheme: dark)').matches"
    assert visit(HEAD, mode="dark").page.evaluate(script) is True
    assert visit(HEAD, mode="light").page.evaluate(script) is False
