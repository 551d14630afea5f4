"""What every answer tells the browser to allow and to refuse."""

from daq.page.door.hosts import Authority

Headers = list[tuple[bytes, bytes]]

_POLICY = (
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self'",
    "font-src 'self'",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
)

_NOT_NEEDED = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
)

_FIXED = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", ", ".join(f"{each}=()" for each in _NOT_NEEDED).encode()),
)

OURS = frozenset(
    {name for name, _ in _FIXED}
    | {b"content-security-policy", b"cache-control", b"server", b"access-control-allow-origin"}
)
"""What the page itself does not say: the door says it, or nobody does."""


def security_headers(asked: Authority | None, path: str, *, tls: bool) -> Headers:
    """The headers of an answer.

    Args:
        asked: the host of the request, if it is on the list.
        path: what was asked for. Static files may be kept by the browser if it asks each time
            whether they still hold; all else is kept nowhere.
        tls: whether the page is served by TLS.
    """
    kept = b"private, no-cache" if path.startswith("/static/") else b"no-store"
    return [
        (b"content-security-policy", _policy(asked, tls=tls).encode()),
        (b"cache-control", kept),
        *_FIXED,
    ]


def _policy(asked: Authority | None, *, tls: bool) -> str:
    """Content-Security-Policy: this page alone, and nothing written into the pages.

    Older browsers on tablets do not take ``'self'`` for a WebSocket too, so its address is written
    out; an IPv6 address cannot be (CSP 3, section 2.3.1: a host has no brackets).
    """
    is_named = asked is not None and ":" not in asked.host
    live = f" {'wss' if tls else 'ws'}://{asked}" if is_named else ""
    return "; ".join((*_POLICY, f"connect-src 'self'{live}"))
