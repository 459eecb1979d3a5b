"""Headers that every answer of both applications carries."""

from __future__ import annotations

from flask import Response, request

#: No inline code or style, nothing from elsewhere, no framing.
SECURITY_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; img-src 'self'; media-src 'self'; style-src 'self'; "
    "script-src 'self'; font-src 'self'; connect-src 'self'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


def secure(response: Response) -> Response:
    """For `after_request`."""
    for name, value in SECURITY_HEADERS.items():
        response.headers[name] = value
    response.headers.setdefault("Cache-Control", "no-cache")
    return response


def unkept(response: Response) -> Response:
    """For `after_request`, registered after `secure`: a browser keeps only what a route says that it may.

    So nobody leafs back to a page after a log-out. The static files, which are the same for everybody, are asked for
    anew each time.
    """
    if request.endpoint != "static":
        response.headers.setdefault("Cache-Control", "no-store")
    return response


def only_https(answer: Response) -> Response:
    """RFC 6797: who came once by https is not talked into coming without it."""
    answer.headers["Strict-Transport-Security"] = "max-age=31536000"
    return answer
