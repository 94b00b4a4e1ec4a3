"""The settings of an identity provider: what is wrong keeps the service from starting, and says the mend."""

import pytest

from service.settings import OidcSettings, SettingWrong, settings_from

GOOD = {"SEAMCOST_OIDC_ISSUER": "https://id.example/kitchen", "SEAMCOST_OIDC_AUDIENCE": "seamcost",
        "SEAMCOST_OIDC_SCOPES": "till=costs:read; finance = read prices:write;"}


def test_unset_there_is_no_provider() -> None:
    assert settings_from({}).oidc is None
    assert settings_from({"SEAMCOST_OIDC_AUDIENCE": "seamcost"}).oidc is None


def test_an_issuer_an_audience_and_what_claims_open_are_enough() -> None:
    assert settings_from(GOOD).oidc == OidcSettings(
        "https://id.example/kitchen", "seamcost", {"till": ("costs:read",), "finance": ("read", "prices:write")},
        "scope", "sub", ("RS256",), None, 30, 3_600)


def test_everything_can_be_said() -> None:
    told = settings_from(GOOD | {
        "SEAMCOST_OIDC_SCOPES_CLAIM": "/realm/roles", "SEAMCOST_OIDC_NAME_CLAIM": "client_id",
        "SEAMCOST_OIDC_ALGORITHMS": "ES256, PS256", "SEAMCOST_OIDC_JWKS_URL": "http://127.0.0.1:9/keys",
        "SEAMCOST_OIDC_LEEWAY_SECONDS": "0", "SEAMCOST_OIDC_LONGEST_SECONDS": "86400"}).oidc
    assert told is not None
    assert (told.scopes_claim, told.name_claim, told.algorithms, told.jwks_url, told.leeway_seconds,
            told.longest_seconds) == ("/realm/roles", "client_id", ("ES256", "PS256"), "http://127.0.0.1:9/keys", 0,
                                      86_400)


@pytest.mark.parametrize(("name", "value"), [
    ("ISSUER", "http://id.example"), ("ISSUER", "id.example"), ("ISSUER", "https://id.example:1@id.example"),
    ("ISSUER", "https://id.example/?a=1"), ("ISSUER", "https://"), ("ISSUER", "file:///etc/passwd"),
    ("ISSUER", "https://[::1"), ("JWKS_URL", "http://id.example/keys"), ("AUDIENCE", ""), ("SCOPES", ""),
    ("SCOPES", "till"), ("SCOPES", "till="), ("SCOPES", "=read"), ("SCOPES", "till=everything"),
    ("SCOPES", "till=read;till=admin"), ("ALGORITHMS", "none"), ("ALGORITHMS", "HS256"), ("ALGORITHMS", "RS256,HS256"),
    ("ALGORITHMS", "EdDSA"), ("ALGORITHMS", ","), ("LEEWAY_SECONDS", "301"), ("LEEWAY_SECONDS", "-1"),
    ("LONGEST_SECONDS", "59"), ("LONGEST_SECONDS", "86401")])
def test_what_is_wrong_is_named_with_its_mend(name: str, value: str) -> None:
    with pytest.raises(SettingWrong, match=f"SEAMCOST_OIDC_{name}.*(give|must be set)"):
        settings_from(GOOD | {f"SEAMCOST_OIDC_{name}": value})
