"""The page of an invented player's month in a real browser: what is asked of the network, whether
everything fits, what is seen in light and in dark, how it comes out on paper."""

from __future__ import annotations

import io
import shutil
from collections import Counter
from unicodedata import normalize
from xml.etree import ElementTree as ET

import pytest

from coach.cli import main
from coach.files.configs import own_folder
from coach.page.palette import DARK, LIGHT
from coach.ports.clock import day_number
from tests.page.chromium import NAME, Browser
from tests.page.month import PASSAGES, keep_month

pytestmark = pytest.mark.browser

TITLE = "</title><script>document.title='run'</script> & \"Presto\" (in one) with a long name"
A4, LETTER = (8.27, 11.69), (8.5, 11.0)
WIDTHS = (360, 1280)

# Elements that stick out to the right, but for what is scrolled inside its own frame.
STICKING_OUT = """[...document.body.querySelectorAll('*')].filter(e => !e.closest('.wide')
    && e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
    .map(e => e.outerHTML.slice(0, 120))"""
# Words of a plot that leave it, or run into each other.
WORDS = """[...document.querySelectorAll('svg.plot, svg.line')].flatMap(svg => {
    const frame = svg.getBoundingClientRect();
    const all = [...svg.querySelectorAll(':scope > text')].map(t => [t.textContent.trim(),
        t.getBoundingClientRect()]).filter(([words]) => words);
    const out = all.filter(([, r]) => r.left < frame.left - 1 || r.right > frame.right + 1
        || r.top < frame.top - 1 || r.bottom > frame.bottom + 1).map(([w]) => w + ' is out');
    const over = all.flatMap(([a, r], k) => all.slice(k + 1).filter(([, q]) =>
        r.left < q.right - 1 && q.left < r.right - 1 && r.top + 5 < q.bottom - 5
        && q.top + 5 < r.bottom - 5).map(([b]) => a + ' on ' + b));
    return [...out, ...over]})"""
SMALLEST = """Math.min(...[...document.querySelectorAll('svg.plot > text, svg.line > text')].map(
    t => parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a))"""
COUNT = "document.querySelectorAll('*').length"


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """A book, and the page made from it."""
    folder = tmp_path_factory.mktemp("month")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(folder))
        keep_month(own_folder() / "practice.sqlite", day_number(), title=TITLE)
        assert main(["review", "--html", str(folder / "page.html")]) == 0
    return folder / "page.html"


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    if shutil.which(NAME) is None:
        pytest.skip("no chromium here")
    opened = Browser(tmp_path_factory.mktemp("browser"))
    yield opened
    opened.close()


def seen(browser, path, width=1280, scheme="light"):
    browser.look(width, scheme)
    browser.open(path)


def test_nothing_is_asked_for_and_nothing_is_complained_of(browser, home):
    seen(browser, home)
    methods = Counter(event.get("method") for event in browser.events)
    assert methods["Network.requestWillBeSent"] == 1, "only the file itself"
    assert methods["Log.entryAdded"] == methods["Runtime.exceptionThrown"] == 0
    assert browser.value("document.title") == "Practice review"
    assert browser.value("document.compatMode") == "CSS1Compat"


def test_goals_with_their_day_are_in_the_picture(browser, home):
    seen(browser, home)
    texts = "[...document.querySelectorAll('.goaltext')].map(t => t.textContent)"
    due = [words for words in browser.value(texts) if words.startswith("due ")]
    assert sorted(words.endswith(" →") for words in due) == [False, True]


def test_html_and_xml_readers_see_the_same(browser, home):
    """What an HTML reader must put right (a tag not closed, a row outside its table) an XML reader
    does not see, and so the other way round."""
    seen(browser, home)
    text = home.read_text(encoding="utf-8").removeprefix("<!DOCTYPE html>\n")
    assert browser.value(COUNT) == sum(1 for _ in ET.fromstring(text).iter())


@pytest.mark.parametrize("width", WIDTHS)
def test_everything_fits(browser, home, width):
    seen(browser, home, width)
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value(STICKING_OUT) == []
    assert browser.value(WORDS) == []
    assert browser.value(SMALLEST) >= (12 if width < 1000 else 18)


def test_what_is_folded_away_fits_too(browser, home):
    seen(browser, home, 360)
    browser.value("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert browser.value("document.documentElement.scrollWidth") <= 360
    assert browser.value(STICKING_OUT) == []


@pytest.mark.parametrize(("scheme", "colours"), [("light", LIGHT), ("dark", DARK)])
def test_light_and_dark_screens(browser, home, scheme, colours):
    """Most of the picture is ground; there is ink on it, and the colour of the ceilings."""
    image = pytest.importorskip("PIL.Image")
    seen(browser, home, 1280, scheme)
    browser.value("document.querySelector('figure').scrollIntoView()")
    picture = image.open(io.BytesIO(browser.png())).convert("RGB")
    found = Counter({colour: count for count, colour in picture.getcolors(1 << 20)})
    named = {name: tuple(bytes.fromhex(colours[name][1:])) for name in colours}
    assert found.most_common(1)[0][0] == named["paper"]
    assert all(found[named[name]] > 50 for name in ("ink", "main", "time", "hot", "band"))
    pixels = picture.width * picture.height
    assert found[named["paper"]] < 0.97 * pixels


def test_the_music_has_the_colour_of_the_text(browser, home):
    seen(browser, home, 1280, "dark")
    expression = "getComputedStyle(document.querySelector('.engraving .note use')).fill"
    assert browser.value(expression) == f"rgb{tuple(bytes.fromhex(DARK['ink'][1:]))}"


def test_marks_stand_under_their_notes(browser, home):
    """Each median lies within a head's width of the middle of a head of its line."""
    seen(browser, home)
    off = browser.value(
        """Math.max(...[...document.querySelectorAll('svg.line')].flatMap(svg => {
        const middle = e => { const r = e.getBoundingClientRect(); return (r.left + r.right) / 2 };
        const heads = [...svg.querySelectorAll('.note .notehead')].map(middle);
        return [...svg.querySelectorAll('.half')].map(
            bar => Math.min(...heads.map(x => Math.abs(x - middle(bar)))))}))"""
    )
    assert off < 3


@pytest.mark.parametrize("paper", [A4, LETTER])
def test_no_picture_is_cut_on_paper(browser, home, paper):
    """Every plot's heading is on the page of its last words, and so is each line of music."""
    pypdf = pytest.importorskip("pypdf")
    seen(browser, home)
    pages = pypdf.PdfReader(io.BytesIO(browser.pdf(*paper))).pages
    texts = [" ".join(normalize("NFKC", page.extract_text()).split()) for page in pages]
    assert len(texts) >= 4
    for text in (one.replace("Tempi are clicks a minute.", "") for one in texts):
        assert text.count("Is it getting faster?") == text.count("clicks a minute")
        assert text.count("20 late") == text.count("faults")
    whole = " ".join(texts)
    assert whole.count("Is it getting faster?") == len(PASSAGES)
    for question, last in (
        ("Are the notes getting more even?", "% of the interval"),
        ("How much was played", "a day of rest"),
        ("Are front and back", "clean notes, %"),
        ("Which finger moves lag?", "The darker, the later"),
    ):
        assert any(question in text and last in text for text in texts), question


def test_paper_is_white(browser, home):
    browser.look(1280, "dark", "print")
    browser.open(home)
    assert browser.value("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert browser.value("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    assert browser.value("getComputedStyle(document.querySelector('details')).display") == "none"
