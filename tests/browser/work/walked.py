"""A job on simulated gauges, faster than real, of which every answer is a click on the page.

The loop works in a thread of its own, as the command's does beside the server. The hands of the
demo's fitter do at the engine what a task asks for; where it would press a key, it waits for a
click.
"""

import threading
from contextlib import contextmanager
from dataclasses import dataclass

from daq.cli.demo_engine import engine_of
from daq.cli.demo_fitter import Fitter
from daq.cli.demo_job import Pace, Watching, work_on
from daq.jobs.task import Task
from daq.page.door import Listen, Tokens
from daq.page.hub import Hub
from daq.page.job_state import JobStates
from daq.page.parts import JobPart
from daq.page.server import PageServer, Served
from daq.page.sources import sources_of
from daq.screen.job_run import Command
from simulated_devices import Bench
from simulated_devices.engine_hand import EngineHand
from tests.browser.browser import until
from tests.browser.work.pressing import BOUNCES_MS, fill_in

WITHIN_S = 20.0
AGAIN_S = 1.2
"""A press that nothing came of after so long is pressed again, as a person would."""

BUTTONS = {"go": "go", "back": "back", "skip": "skip", "let it stand": "stand"}


@dataclass(frozen=True)
class Clicked:
    """A click that the job went on by: what it asked for, and at which task."""

    command: Command
    task: Task


class Fingers(Fitter):
    """A fitter that has no keyboard: what it would press is clicked by somebody else."""

    def commands(self):
        if self.walked.asked is None:
            for command in super().commands():
                self.walked.ask(command)
        return ()


class Walked:
    """A job at work; ``walk`` clicks it through to its end.

    Attributes:
        clicked: every click that the job went on by, in order.
        server: the running page.
        outcome: what came of it, after its end.
    """

    def __init__(self, path, story, *, seed=6, speed=25.0):
        self.path, self.story, self._seed = path, story, seed
        self.clicked, self.outcome, self.asked = [], None, None
        self._pace, self._turn = Pace(speed), threading.Condition()
        self._task = self._taken = self._failure = None
        self._is_over, self._pressed_ms = False, 0.0
        self._hub = Hub()
        labels = tuple(each.label for each in story.gauges)
        self._part = JobPart(self._hub, labels, JobStates().message)

    @contextmanager
    def at_work(self, monkeypatch):
        """The page is served, and the loop runs."""
        story, more = self.story, type("WalkedFingers", (Fingers,), {"walked": self})
        monkeypatch.setattr("daq.cli.demo_job.Fitter", more)
        engine = engine_of(
            story.sheet, story.variant, story.gauges, self._seed, story.off_mm, self._pace.now_s
        )
        served = Served(listen=Listen(port=0), tokens=Tokens.made())
        sources = sources_of(self.path, self._part.engine)
        gauges = {label: (gauge, None) for label, gauge in engine.gauges.items()}
        with Bench(gauges) as bench, PageServer(self._hub, served, sources) as self.server:
            working = threading.Thread(target=self._work, args=(engine, bench.ports))
            working.start()
            try:
                yield self
            finally:
                self._is_over = True
                working.join(WITHIN_S)
                assert not working.is_alive()

    def _work(self, engine, ports):
        watching = Watching(
            show=self._part.show,
            commands=self._commands,
            told=self._told,
            stop=lambda: self._is_over,
        )
        hand = EngineHand(engine, self.story.flaws, seed=self._seed)
        try:
            self.outcome = work_on(self.path, self.story, engine, hand, ports, self._pace, watching)
        except Exception as failure:
            self._failure = failure
        if self._taken is not None and not self._is_over:
            self.clicked.append(Clicked(self._taken, self._task))  # it ended the job
        self._change(_is_over=True)

    # From here to walk: the loop's thread.

    def ask(self, command):
        """The fitter would press this."""
        self._change(asked=command)

    def _commands(self):
        if self._taken is not None:  # still the same task: it was refused
            self._taken = None
            self._change(asked=None)
        found = list(self._part.commands())
        if found:
            self._taken = found[0]
        return found

    def _told(self, task):
        if self._taken is not None:
            self.clicked.append(Clicked(self._taken, self._task))
        self._taken = None
        self._part.told(task)
        self._change(_task=task, asked=None)

    def _change(self, **more):
        with self._turn:
            vars(self).update(more)
            self._turn.notify_all()

    def walk(self, page, look=lambda _task: None):
        """Click what the fitter would press until the job ends; ``look`` at each task's page."""
        before = None
        while True:
            with self._turn:
                assert self._turn.wait_for(lambda: self._is_over or self.asked, WITHIN_S)
                if self._is_over:
                    break
                asked, task = self.asked, self._task
            shown = f"""$("title").textContent === {task.title!r}"""
            until(page, shown)
            if task is not before:
                look(task)
            before = task
            self._press(page, asked, task)
        if self._failure is not None:
            raise self._failure

    def _press(self, page, command, task):
        for _ in range(8):
            name = BUTTONS[command.kind]
            until(page, f'!$("{name}").disabled || $("title").textContent !== {task.title!r}')
            if page.locator("#title").text_content() != task.title:
                return  # it has gone on by itself, as it does at the stops of a rocked part
            for place, figure in enumerate(command.figures):
                page.fill(f"#figure-{place}", str(figure))
            self._pressed_ms = until(page, f"now > {self._pressed_ms + BOUNCES_MS}")
            page.click(f"#{name}", force=True)
            if command.reason:
                fill_in(page, reason=command.reason, by=command.by)
            elif name != "go":
                fill_in(page)
            with self._turn:
                if self._turn.wait_for(lambda: self._is_over or self.asked is not command, AGAIN_S):
                    return
        raise AssertionError(f"nobody took it: {command} at {task.title}")
