"""From bytes on a serial line to readings. Imports nothing else of restpoint.

The road of a byte: ``link`` and ``reader`` (ports, the only I/O) → ``framing`` → ``check`` →
``layouts`` → ``decoder`` (events). What differs from gauge to gauge is data: ``profile`` and the
TOML files in ``profiles/``.
"""
