"""What a program holds of its machine: memory, handles, threads."""

import gc
import os
import threading
from dataclasses import dataclass

PAGE_BYTES = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 4096


@dataclass(frozen=True)
class Held:
    """At one moment: ``t_s`` seconds of the work's own time."""

    t_s: float
    memory_mb: float
    handles: int
    threads: int

    @classmethod
    def now(cls, t_s):
        gc.collect()
        with open("/proc/self/statm", encoding="ascii") as file:
            pages = int(file.read().split()[1])
        handles = len(os.listdir("/proc/self/fd"))
        return cls(t_s, pages * PAGE_BYTES / 1e6, handles, threading.active_count())


def growth(held):
    """From a quarter of the work to its end: memory in MB, handles, threads.

    The first quarter is left out: caches fill up and modules are loaded in it.
    """
    begin, end = held[len(held) // 4], held[-1]
    return (
        end.memory_mb - begin.memory_mb,
        end.handles - begin.handles,
        end.threads - begin.threads,
    )
