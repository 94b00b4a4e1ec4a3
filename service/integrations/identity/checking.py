"""The check of tokens, where an identity provider is set; where none is, nothing that it takes is even imported."""

from collections.abc import Callable
from datetime import datetime

from service.settings import OidcSettings
from service.use_cases.token_identity import VerifyToken


def token_check(settings: OidcSettings | None, clock: Callable[[], datetime]) -> VerifyToken | None:
    """The check of tokens; None where no provider is set. Nothing is read until a token comes."""
    if settings is None:
        return None
    from service.integrations.identity.keys_at_hand import KeysAtHand
    from service.integrations.identity.provider import read_keys
    from service.integrations.identity.tokens import Tokens

    return Tokens(settings, KeysAtHand(lambda: read_keys(settings)), clock).verified
