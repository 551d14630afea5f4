"""Which page a request comes from: Origin, and what the browser itself says of it.

Cookies do not know ports, and SameSite does not either: a page on another port of the same machine
is "the same site". So the origin is held against scheme, host and port together.
"""

from typing import Literal

from daq.page.door.hosts import Authority, authority_from

Kind = Literal["http", "websocket"]

_PORTS = {"http": 80, "https": 443}


def is_own_origin(text: str, asked: Authority, *, tls: bool) -> bool:
    """Whether an Origin is that of this page, as it was asked for.

    Args:
        text: the header, after RFC 6454, section 7: ``http://name:8420``, or ``null``.
        asked: the Host of the same request, which is on the list.
        tls: whether the page is served by TLS.
    """
    scheme, cut, rest = text.partition("://")
    if not cut or scheme != ("https" if tls else "http"):
        return False
    return authority_from(rest, _PORTS[scheme]) == asked


def why_foreign(
    kind: Kind, headers: dict[str, list[str]], asked: Authority, *, tls: bool
) -> str | None:
    """Why a request comes from somewhere else than this page; None if it does not.

    A page, a script or a picture that is fetched by this page, or typed by hand, carries no Origin.
    A WebSocket always does when a browser opens it, and nothing else protects it from other pages.

    Args:
        kind: what is asked for.
        headers: names in lower case.
        asked: the Host of the request, which is on the list.
        tls: whether the page is served by TLS.
    """
    origins = headers.get("origin", [])
    if len(origins) > 1:
        return "The request names two pages that it comes from."
    if not origins and kind == "websocket":
        return "A live connection must say which page it comes from. Open it in a browser."
    if origins and not is_own_origin(origins[0], asked, tls=tls):
        return "This was asked for by a page of another site, so it is refused."
    return _why_cross_site(kind, headers)


def _why_cross_site(kind: Kind, headers: dict[str, list[str]]) -> str | None:
    """What the browser says of the request (Fetch Metadata); by plain HTTP it says nothing.

    Going to the page by a link on another site is harmless: it only reads, it cannot be framed, and
    the cookie is not sent along. Anything that another site's page fetches is refused.
    """
    sites = headers.get("sec-fetch-site", [])
    if not sites or sites == ["same-origin"]:
        return None
    is_going = headers.get("sec-fetch-mode") == ["navigate"]
    is_whole_page = headers.get("sec-fetch-dest") == ["document"]
    if kind == "http" and (sites == ["none"] or (is_going and is_whole_page)):
        return None
    return "This was fetched by a page of another site, so it is refused."
