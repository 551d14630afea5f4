"""Starts a master of Spark and two workers on loopback, runs the tests on them, and ends them.

Everything has a time at which it is given up, and whatever happens the processes that were started
here are ended, each by its number.
"""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyspark

HOST = "127.0.0.1"
WORKERS = 2
START_S, TESTS_S, END_S = 60, 800, 10
TESTS = ("tests/cluster", "tests/daq/audit/engine/test_spark_same.py")


def main() -> int:
    """The exit status of the tests; 1 if there was no cluster, or it did nothing."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("The cluster was told to end."))
    with tempfile.TemporaryDirectory(prefix="restpoint-cluster-") as place, cluster(place) as at:
        master, page = at
        print(f"{master} has {WORKERS} workers of one core", flush=True)
        tests = [
            sys.executable,
            "-m",
            "pytest",
            "-p",
            "no:cacheprovider",
            "-rs",
            "--durations=8",
            *TESTS,
        ]
        environment = {**os.environ, **local(), "RESTPOINT_SPARK": master}
        try:
            status = subprocess.run(tests, env=environment, timeout=TESTS_S, check=False).returncode
        except subprocess.TimeoutExpired:
            sys.exit(f"The tests on the cluster were not done after {TESTS_S} s.")
        done = [each for each in state_of(page)["completedapps"] if each["cores"] == WORKERS]
        print(f"{len(done)} sessions on the cluster had {WORKERS} cores", flush=True)
        return status or int(not done)


def local() -> dict[str, str]:
    """What keeps Spark on this machine, and finds it."""
    return {"SPARK_LOCAL_IP": HOST, "SPARK_HOME": str(Path(pyspark.__file__).parent)}


@contextlib.contextmanager
def cluster(place: str) -> Iterator[tuple[str, int]]:
    """A master with its workers: its address, and the port of its page."""
    with contextlib.ExitStack() as stack:
        port, page = free_ports(2)
        address = f"spark://{HOST}:{port}"
        # Without another try at the next port: the address is known beforehand, or there is none.
        options = "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC -Dspark.port.maxRetries=0"
        started = [
            stack.enter_context(
                running(
                    place, options, "master.Master", "--port", str(port), "--webui-port", str(page)
                )
            )
        ]
        wait_for(page, 0, started, place)
        for number in range(WORKERS):
            own = ("--port", "0", "--webui-port", "0", "--cores", "1", "--memory", "1g")
            work = ("--work-dir", f"{place}/work-{number}", address)
            started.append(
                stack.enter_context(running(place, options, "worker.Worker", *own, *work))
            )
        wait_for(page, WORKERS, started, place)
        yield address, page


@contextlib.contextmanager
def running(
    place: str, options: str, what: str, *arguments: str
) -> Iterator[subprocess.Popen[bytes]]:
    """A daemon of Spark, ended at the end with what it started."""
    environment = {
        **os.environ,
        **local(),
        "SPARK_DAEMON_JAVA_OPTS": options,
        "SPARK_DAEMON_MEMORY": "512m",
    }
    start = Path(local()["SPARK_HOME"]) / "bin" / "spark-class"
    command = ["bash", str(start), f"org.apache.spark.deploy.{what}", "--host", HOST, *arguments]
    with open(f"{place}/log", "ab") as log:
        process = subprocess.Popen(
            command, env=environment, stdout=log, stderr=log, start_new_session=True
        )
    try:
        yield process
    finally:
        end(process)


def end(process: "subprocess.Popen[bytes]") -> None:
    """Asks a process to end; if it does not, ends it and all of its session."""
    process.terminate()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(END_S)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(END_S)


def free_ports(many: int) -> list[int]:
    """Ports that nobody has at the moment."""
    with contextlib.ExitStack() as stack:
        found = [stack.enter_context(socket.socket()) for _ in range(many)]
        for each in found:
            each.bind((HOST, 0))
        return [int(each.getsockname()[1]) for each in found]


def wait_for(page: int, workers: int, started: "list[subprocess.Popen[bytes]]", place: str) -> None:
    """Waits until the master answers and has so many workers."""
    until = time.monotonic() + START_S
    while time.monotonic() < until and all(each.poll() is None for each in started):
        with contextlib.suppress(OSError):
            if state_of(page)["aliveworkers"] >= workers:
                return
        time.sleep(0.2)
    log = Path(place, "log").read_text("utf-8", "replace")
    sys.exit(f"The cluster did not come up. Its last words:\n{log[-4000:]}")


def state_of(page: int) -> dict[str, Any]:
    """What the master says of itself."""
    with urllib.request.urlopen(f"http://{HOST}:{page}/json/", timeout=5) as answer:
        return dict(json.load(answer))


if __name__ == "__main__":
    sys.exit(main())
