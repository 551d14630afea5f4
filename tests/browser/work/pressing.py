"""Presses on the pages of a job and of a calibration, as a person presses."""

import json

from tests.browser.browser import until

BOUNCES_MS = 320
"""The same button pressed again sooner counts as the same press."""


def press(page, name):
    """Press a button once it can be pressed, and let so much time pass that the next one counts."""
    until(page, f'!$("{name}").disabled')
    page.click(f"#{name}")
    settle(page)


def settle(page):
    """Let so much time pass that the next press of the same button counts."""
    until(page, f"now > {until(page, 'true') + BOUNCES_MS}")


def go_on(page, title):
    """Press the large button, and wait for the task of this title."""
    press(page, "go")
    until(page, f'$("title").textContent.includes({json.dumps(title)})')


def answered(page, name, **texts):
    """Press one of the other answers, fill its dialogue in, and say yes."""
    press(page, name)
    fill_in(page, **texts)


def fill_in(page, **texts):
    """Fill a dialogue in, and say yes."""
    until(page, '$("ask").open')
    for field, text in texts.items():
        page.fill(f"#ask-{field}", text)
    page.click('#ask [data-part="yes"]')


LIFTED_MM = 2.5


def lift(page, plunger, to_mm):
    """Lift the plunger and let it down again, and wait until the page shows it at rest there."""
    plunger.at_mm = LIFTED_MM
    until(page, shows(LIFTED_MM))
    plunger.at_mm = to_mm
    until(page, f'{shows(to_mm)} && $("strip").dataset.motion === "at rest"')


def shows(mm):
    """That the page shows a length, as a condition."""
    digits = f"{mm:+.3f} mm" if mm else "0.000 mm"
    place = "document.querySelector('[data-part=digits]')"
    return f"{place}.textContent === '{digits}'"
