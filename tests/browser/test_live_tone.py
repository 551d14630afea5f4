"""The value by ear: what goes to the loudspeaker, heard by the page's own AnalyserNode."""

import pytest

from tests.browser.browser import until, watch_for, watched
from tests.browser.live_page import BY_KEY, at_rest
from tests.end_to_end.road import steady

MIDDLE_HZ = 660.0
QUIET_DB, STRUCK_DB = -80, -50

IS_SILENT = """(() => {
  const { analyser } = globalThis.restpointSound;
  const wave = new Float32Array(analyser.fftSize);
  analyser.getFloatTimeDomainData(wave);
  return wave.every((each) => each === 0);
})()"""

TURN = """(slider, to) => {
  slider.value = to;
  slider.dispatchEvent(new Event("input"));
}"""

LISTEN = """(forMs) => new Promise((done) => {
  const { analyser } = globalThis.restpointSound;
  const wave = new Float32Array(analyser.fftSize);
  const levels = new Float32Array(analyser.frequencyBinCount);
  const most = new Float32Array(analyser.frequencyBinCount).fill(-Infinity);
  const loudness = [];
  const end = performance.now() + forMs;
  const step = () => {
    analyser.getFloatTimeDomainData(wave);
    const last = wave.subarray(-480);
    loudness.push(Math.hypot(...last) / Math.sqrt(last.length));
    analyser.getFloatFrequencyData(levels);
    levels.forEach((each, at) => (most[at] = Math.max(most[at], each)));
    if (performance.now() < end) return setTimeout(step, 8);
    const bin = analyser.context.sampleRate / analyser.fftSize;
    const peak = most.indexOf(Math.max(...most));
    done({ hz: peak * bin, bin, db: most[peak], quietest: Math.min(...loudness),
      loudest: Math.max(...loudness) });
  };
  step();
})"""
"""The strongest pitch of a time, with its level, and the least and the most loudness in it."""


def level_at(hz):
    """An expression for the level at a pitch now, dB."""
    return f"""(() => {{
      const {{ analyser }} = globalThis.restpointSound;
      const levels = new Float32Array(analyser.frequencyBinCount);
      analyser.getFloatFrequencyData(levels);
      const at = Math.round({hz} / (analyser.context.sampleRate / analyser.fftSize));
      return Math.max(...levels.subarray(at - 1, at + 2));
    }})()"""


def was_struck(hz):
    """An expression for whether a pitch was loud since it was asked first: bells die away."""
    most = f"(globalThis.most ??= {{}})[{hz}]"
    return f"({most} = Math.max({most} ?? -Infinity, {level_at(hz)})) > {STRUCK_DB}"


def sounding(open_page, address, digits):
    """A page with its sound on, at a number at rest."""
    page = open_page(address)
    at_rest(page, digits)
    page.click("#sound")
    until(page, '$("sound").textContent === "Sound on" && globalThis.restpointSound.isAwake')
    until(
        page,
        """(() => {
      const { analyser } = globalThis.restpointSound;
      const wave = new Float32Array(analyser.fftSize);
      analyser.getFloatTimeDomainData(wave);
      return wave.every((each, at) => at % 2000 || each !== 0);
    })()""",
    )
    return page


# From the mapping: 4 to 16 semitones off the middle from the limit to the end of the scale.
@pytest.mark.parametrize(
    ("at_mm", "digits", "semitones", "is_steady"),
    [(12.38, "+0.080", 11.2, False), (12.171, "-0.129", -16, False), (12.3, "0.000", 0, True)],
)
def test_too_high_too_low_and_zero_are_heard(
    open_page, bench_live, at_mm, digits, semitones, is_steady
):
    _, program, _ = bench_live({"gauge": (steady("decimal-line", at_mm), None)}, *BY_KEY)
    page = sounding(open_page, *program.addresses(), digits)
    heard = page.evaluate(LISTEN, 1000)
    assert heard["hz"] == pytest.approx(MIDDLE_HZ * 2 ** (semitones / 12), abs=heard["bin"])
    assert heard["db"] > -50
    share = heard["quietest"] / heard["loudest"]
    assert share > 0.7 if is_steady else share < 0.05


def test_a_capture_chimes_a_refusal_buzzes_and_the_two_differ(open_page, bench_live):
    words = (*BY_KEY, "--viewers")
    _, program, _ = bench_live({"gauge": (steady("decimal-line", 12.3), None)}, *words)
    hand, look = program.addresses(2)
    chime, buzz = (1046.5, 1568.0), (196.0, 146.8)
    for address, rises, press in ((hand, chime, "#capture"), (look, buzz, None)):
        page = sounding(open_page, address, "0.000")
        for hz in (*chime, *buzz):
            assert page.evaluate(level_at(hz)) < QUIET_DB
        watch_for(page, " && ".join(map(was_struck, rises)))
        if press:
            page.click(press)
        else:
            page.keyboard.press("Space")
        watched(page)
        others = buzz if rises is chime else chime
        assert all(page.evaluate(level_at(hz)) < STRUCK_DB - 10 for hz in others)


def test_the_sound_is_off_until_it_is_wanted_and_off_again_when_it_is_not(open_page, bench_live):
    bench, program, _ = bench_live({"gauge": (steady("decimal-line", 12.38), None)}, *BY_KEY)
    (address,) = program.addresses()
    page = open_page(address)
    at_rest(page, "+0.080")
    assert page.evaluate("globalThis.restpointSound.analyser === null")
    page = sounding(open_page, address, "+0.080")
    assert page.evaluate(LISTEN, 400)["loudest"] > 0.01  # and a second press counts again
    page.click("#sound")
    until(page, '$("sound").textContent === "Sound off"')
    until(page, IS_SILENT)
    page.click("#capture")
    until(page, '$("captured").textContent === "1"')
    assert page.evaluate(LISTEN, 500)["loudest"] == 0
    page.click("#sound")
    until(page, f"!{IS_SILENT}")
    bench.pull("gauge")
    until(page, IS_SILENT)


def test_the_slider_at_nought_is_silent_and_half_way_is_softer(open_page, bench_live):
    _, program, _ = bench_live({"gauge": (steady("decimal-line", 12.3), None)}, *BY_KEY)
    page = sounding(open_page, *program.addresses(), "0.000")
    loudness = []
    for volume in ("100", "50"):
        page.locator("#volume").evaluate(TURN, volume)
        until(page, f"{level_at(MIDDLE_HZ)} {'> -30' if volume == '100' else '< -40'}")
        loudness.append(page.evaluate(LISTEN, 300)["loudest"])
    assert 0 < loudness[1] < loudness[0] / 2
    page.locator("#volume").evaluate(TURN, "0")
    until(page, IS_SILENT)
