"""What every answer says to the browser: load nothing from elsewhere, run nothing inline, keep nothing private."""

from __future__ import annotations

from flask import Flask, Response

from companion.config import Settings

POLICY = "; ".join((
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' blob:",
    "font-src 'self'",
    "connect-src 'self'",
    "manifest-src 'self'",
    "worker-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
))  # fmt: skip

ALWAYS = {
    "Content-Security-Policy": POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    # Own pages get the address (the forms' guard reads it under https), others get nothing: links hold tokens.
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
}


def install(app: Flask, settings: Settings) -> None:
    @app.after_request
    def speak(response: Response) -> Response:
        for name, value in ALWAYS.items():
            response.headers[name] = value
        if settings.cookie_secure:
            response.headers["Strict-Transport-Security"] = "max-age=31536000"
        if "Cache-Control" not in response.headers:
            response.headers["Cache-Control"] = "no-store"
        return response
