"""HTTP Message Signatures (RFC 9421) with HMAC over SHA-256 (its section 3.3.3), and Content-Digest (RFC 9530)."""

from __future__ import annotations

import hmac
from base64 import b64encode
from collections.abc import Mapping, Sequence
from hashlib import sha256
from urllib.parse import urlsplit

LABEL = "tallywire"
_PORTS = {"http": 80, "ws": 80, "https": 443, "wss": 443}


def content_digest(body: bytes) -> str:
    """Give the value of Content-Digest (RFC 9530 §2)."""
    return f"sha-256=:{b64encode(sha256(body).digest()).decode()}:"


def of_target(method: str, url: str) -> dict[str, str]:
    """Give the derived components that say what is asked of whom (RFC 9421 §2.2)."""
    parts = urlsplit(url)
    host = parts.hostname or ""
    host = f"[{host}]" if ":" in host else host
    port = "" if parts.port in (None, _PORTS[parts.scheme]) else f":{parts.port}"
    return {
        "@method": method,
        "@authority": f"{host.lower()}{port}",
        "@path": parts.path or "/",
        "@query": f"?{parts.query}",
    }


def signature_params(components: Sequence[str], *, created: int, key_id: str) -> str:
    """Give the signature's parameters: what is covered, when it was made (Unix seconds), and with which key."""
    covered = " ".join(f'"{name}"' for name in components)
    return f'({covered});created={created};keyid="{key_id}";alg="hmac-sha256"'


def signature(components: Mapping[str, str], params: str, *, key: bytes) -> bytes:
    """Give the signature of components, in their order, under parameters (RFC 9421 §2.5, the signature base)."""
    lines = [f'"{name}": {value}' for name, value in components.items()]
    base = "\n".join([*lines, f'"@signature-params": {params}'])
    return hmac.digest(key, base.encode(), "sha256")


def signed(components: Mapping[str, str], *, created: int, key: bytes) -> dict[str, str]:
    """Give the fields that carry the signature of a request (RFC 9421 §4)."""
    params = signature_params(list(components), created=created, key_id=LABEL)
    sign = b64encode(signature(components, params, key=key)).decode()
    return {"Signature-Input": f"{LABEL}={params}", "Signature": f"{LABEL}=:{sign}:"}
