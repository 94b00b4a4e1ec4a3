"""The identity provider as the settings name it: where its keys are.

Where no URL of the keys is pinned, the provider's discovery document names it; then it must be on the issuer's own
host, so that nothing but the settings decides whom the service calls.

Source: OpenID Connect Discovery 1.0 sections 4.1 and 4.3.
"""

from collections.abc import Mapping
from urllib.parse import urlsplit

from service.integrations.identity.fetching import SECONDS, NotFetched, fetched_json
from service.integrations.identity.signing_keys import SigningKey, signing_keys
from service.settings import OidcSettings

DISCOVERY = "/.well-known/openid-configuration"


def read_keys(settings: OidcSettings, seconds: float = SECONDS) -> Mapping[str, SigningKey]:
    """The provider's keys as they are now; each of its documents has so many seconds.

    Raises:  NotFetched.
    """
    url = settings.jwks_url or _discovered(settings.issuer, seconds)
    try:
        return signing_keys(fetched_json(url, seconds), settings.algorithms)
    except ValueError as fault:
        raise NotFetched(str(fault)) from fault


def _discovered(issuer: str, seconds: float) -> str:
    document = fetched_json(issuer.rstrip("/") + DISCOVERY, seconds)
    url = document.get("jwks_uri") if isinstance(document, dict) else None
    if not isinstance(url, str) or document.get("issuer") != issuer:
        raise NotFetched("a discovery document that names no keys, or another issuer")
    if _origin(url) != _origin(issuer):
        raise NotFetched("the keys are on another host than the issuer: pin SEAMCOST_OIDC_JWKS_URL")
    return url


def _origin(url: str) -> tuple[str, str]:
    try:
        parts = urlsplit(url)
    except ValueError:
        return "", ""
    return parts.scheme.lower(), parts.netloc.lower()
