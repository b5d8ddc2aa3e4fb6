"""A sign-in service for tests: enough of OpenID Connect Core 1.0 and PKCE (RFC 7636) on loopback, without accounts.

Run by the tests as `python openid_stub.py PORT`. Its sign-in page asks for an address and believes it: never deploy it.
"""

from __future__ import annotations

import base64
import hashlib
import html
import secrets
import sys
import time
from dataclasses import dataclass
from urllib.parse import urlencode

import uvicorn
from joserfc import jwt
from joserfc.jwk import RSAKey
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

CLIENT, PASSWORD = "kitchen", "known to the provider"
LIFETIME_S = 600
KEY = RSAKey.generate_key(2048, {"kid": "test"})
FORM = """<!doctype html><html lang="en"><head><title>Test sign-in</title><link rel="icon" href="data:,"></head><body>
<main><h1>Test sign-in</h1><form action="/done"><label>Address <input name="email"></label>
<label><input type="checkbox" name="confirmed" checked> confirmed</label>
{hidden}<button>Go on</button></form></main></body></html>"""


@dataclass(frozen=True)
class Given:
    """What was agreed in the browser, until the server fetches it."""

    email: str
    is_confirmed: bool
    nonce: str
    challenge: str


GIVEN: dict[str, Given] = {}


def service(issuer: str) -> Starlette:
    """The service under its own address."""

    async def metadata(_: Request) -> Response:
        return JSONResponse(
            {
                "issuer": issuer,
                "authorization_endpoint": f"{issuer}/authorize",
                "token_endpoint": f"{issuer}/token",
                "jwks_uri": f"{issuer}/keys",
                "response_types_supported": ["code"],
                "subject_types_supported": ["public"],
                "id_token_signing_alg_values_supported": ["RS256"],
                "code_challenge_methods_supported": ["S256"],
            }
        )

    async def authorize(request: Request) -> Response:
        asked = request.query_params
        if asked.get("client_id") != CLIENT or asked.get("response_type") != "code":
            return Response("unknown client", 400)
        hidden = "".join(
            f'<input type="hidden" name="{name}" value="{html.escape(asked.get(name, ""))}">'
            for name in ("state", "nonce", "redirect_uri", "code_challenge")
        )
        return HTMLResponse(FORM.format(hidden=hidden))

    async def done(request: Request) -> Response:
        asked = request.query_params
        code = secrets.token_urlsafe(8)
        GIVEN[code] = Given(asked["email"], "confirmed" in asked, asked["nonce"], asked["code_challenge"])
        return RedirectResponse(f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}")

    async def token(request: Request) -> Response:
        form = await request.form()
        given = GIVEN.pop(str(form["code"]), None)
        proof = hashlib.sha256(str(form.get("code_verifier", "")).encode()).digest()
        if given is None or base64.urlsafe_b64encode(proof).rstrip(b"=").decode() != given.challenge:
            return JSONResponse({"error": "invalid_grant"}, 400)
        now = int(time.time())
        claims = {"iss": issuer, "aud": CLIENT, "sub": given.email, "iat": now, "exp": now + LIFETIME_S}
        claims |= {"nonce": given.nonce, "email": given.email, "email_verified": given.is_confirmed, "name": "A Person"}
        signed = jwt.encode({"alg": "RS256", "kid": "test"}, claims, KEY)
        answer = {"access_token": "unused", "token_type": "Bearer", "expires_in": LIFETIME_S, "id_token": signed}
        return JSONResponse(answer)

    async def keys(_: Request) -> Response:
        return JSONResponse({"keys": [KEY.as_dict(private=False)]})

    return Starlette(
        routes=[
            Route("/.well-known/openid-configuration", metadata),
            Route("/authorize", authorize),
            Route("/done", done),
            Route("/token", token, methods=["POST"]),
            Route("/keys", keys),
        ]
    )


if __name__ == "__main__":
    port = int(sys.argv[1])
    uvicorn.run(service(f"http://localhost:{port}"), host="127.0.0.1", port=port, log_level="warning")
