"""What the tests of the live page ask of it."""

from tests.browser.browser import until

WANTED = ("--nominal", "12.30 mm", "--limits", "± 0.05 mm", "--source", "sheet 1")
BY_KEY = (*WANTED, "--when", "key")
"""The specification, and that nothing is captured by itself."""

IS_BLANK = """$("bench").dataset.blank === "true" && $("capture").disabled
  && document.querySelector("#gate .needle").dataset.needle === "none"
  && $("digits").textContent === "no number"
  && getComputedStyle($("number").firstElementChild).visibility === "hidden"
  && $("reading").getBoundingClientRect().height === 0"""
"""No number, no needle and no capture: none of it stands on the page, for eyes or for readers."""


def at_rest(page, digits=None):
    """Waits for a number at rest, which may be given."""
    shown = "" if digits is None else f' && $("digits").textContent === "{digits}"'
    return until(page, f'$("motion").textContent === "at rest"{shown}')


def said(page, name):
    """The text of an element."""
    return page.locator(f"#{name}").text_content()


def painted(page):
    """The number as it is drawn, read off its strokes: what the drawing of each figure says."""
    return page.evaluate(
        """async () => {
          const { cells, ratioFor, strokes } = await import("/static/numeral.js");
          const svg = document.querySelector("#number svg");
          if (getComputedStyle(svg).visibility !== "visible") return null;
          const drawn = [...svg.querySelectorAll("path")].map((path) => path.getAttribute("d"));
          const { width, height } = document.getElementById("number").getBoundingClientRect();
          const text = document.getElementById("digits").textContent;
          const ratio = Math.round(ratioFor(text, width, height) * 1000) / 1000;
          const wide = 100 * ratio;
          const room = (char, place) => (char === "." ? 22 : place === 0 ? wide * 0.86 : wide);
          return drawn.map((d, place) => d && ([..."0123456789.+-"].find((char) =>
            strokes(char, room(char, place)) === d) ?? "?")).join("");
        }"""
    )
