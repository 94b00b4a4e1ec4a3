"""Keys and tokens of the standards themselves: which keys of a set may sign, and whose signatures hold.

Sources: RFC 7515 appendices A.2 (RS256) and A.3 (ES256); RFC 7519 sections 3.1 (HS256) and 6.1 (unsecured); RFC 7517
appendix A.1 (a set with a key for encryption); RFC 7638 section 3.1 (the thumbprint of its RSA key). A.2's modulus and
the set are from memory, held here to A.2's signature and to the thumbprint.
"""

import base64
import hashlib
import json
import logging
from collections.abc import Collection
from datetime import UTC, datetime
from typing import Any

import pytest

from service.integrations.identity.keys_at_hand import KeysAtHand
from service.integrations.identity.signing_keys import signing_keys
from service.integrations.identity.tokens import Tokens
from service.settings import OidcSettings
from tests.conftest import SettableClock

CLAIMS = "eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ"
RSA_OF_A2 = {"kty": "RSA", "e": "AQAB", "n": (
    "ofgWCuLjybRlzo0tZWJjNiuSfb4p4fAkd_wWJcyQoTbji9k0l8W26mPddxHmfHQp-Vaw-4qPCJrcS2mJPMEzP1Pt0Bm4d4QlL-yRT-SFd2lZS-pC"
    "gNMsD1W_YpRPEwOWvG6b32690r2jZ47soMZo9wGzjb_7OMg0LOL-bSf63kpaSHSXndS5z5rexMdbBYUsLA9e-KXBdQOS-UTo7WTBEMa2R2CapHg6"
    "65xsmtdVMTBQY4uDZlxvb3qCo5ZwKh9kG4LT6_I5IhlJH7aGhyxXFvUK-DWNmoudF8NAco9_h9iaGNj8q2ethFkMLs91kzk2PAcDTW9gb54h4FRW"
    "yuXpoQ")}
EC_OF_A3 = {"kty": "EC", "crv": "P-256", "x": "f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU",
            "y": "x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0"}
A2 = (f"eyJhbGciOiJSUzI1NiJ9.{CLAIMS}.cC4hiUPoj9Eetdgtv3hF80EGrhuB__dzERat0XF9g2VtQgr9PJbu3XOiZj5RZmh7AAuHIm4Bh-"
      "0Qc_lF5YKt_O8W2Fp5jujGbds9uJdbF9CUAr7t1dnZcAcQjbKBYNX4BAynRFdiuB--f_nZLgrnbyTyWzO75vRK5h6xBArLIARNPvkSjtQBMHlb1L07Qe7K0Ga"
      "rZRmB_eSN9383LcOLn6_dO--xi12jzDwusC-eOkHWEsqtFZESc6BfI7noOPqvhJ1phCnvWh6IeYI2w9QOYEUipUTI8np6LbgGY9Fs98rqVt5AXLI"
      "hWkWywlVmtVrBp0igcN_IoypGlUPQGe77Rw")
A3 = (f"eyJhbGciOiJFUzI1NiJ9.{CLAIMS}.DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5djxLa8ISlSApmWQxfKTUJqPP3-"
      "Kg6NU1Q")
HS256 = f"eyJ0eXAiOiJKV1QiLA0KICJhbGciOiJIUzI1NiJ9.{CLAIMS}.dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk"
ITS_SECRET = {
    "kty": "oct",
    "k": "AyM1SysPpbyDfgZld3umj1qzKObwVMkoqQ-EstJQLr_T-1qS0gZH75aKtMN3Yj0iPS4hcgUuTwjAzZr1Z9CAow"}
UNSECURED = f"eyJhbGciOiJub25lIn0.{CLAIMS}."
UNSIGNED = "not signed with the key that it names"


def refusal(token: str, keys: Collection[Any], algorithms: tuple[str, ...], caplog: pytest.LogCaptureFixture) -> str:
    """Why a token is refused. These are never good here: they have no subject and no audience, and ended in 2011."""
    settings = OidcSettings("joe", "seamcost", {}, algorithms=algorithms)
    at_hand = KeysAtHand(lambda: signing_keys({"keys": keys}, algorithms))
    with caplog.at_level(logging.INFO, "seamcost.identity"):
        assert Tokens(settings, at_hand, SettableClock(datetime(2011, 3, 22, 18, tzinfo=UTC))).verified(token) is None
    return caplog.messages[-1]


@pytest.mark.parametrize(("token", "key", "algorithm"), [(A2, RSA_OF_A2, "RS256"), (A3, EC_OF_A3, "ES256")])
def test_a_signature_of_the_standard_holds_and_no_other(
        token: str, key: dict[str, str], algorithm: str, caplog: pytest.LogCaptureFixture) -> None:
    """What is wrong with the token itself is that a claim is missing; that is looked at once its signature holds."""
    assert "MissingClaimError" in refusal(token, [key], (algorithm,), caplog)
    head, claims, signature = token.split(".")
    of_jod = claims.replace("b2Ui", "b2Qi", 1)
    for changed in (f"{head}.{of_jod}.{signature}", f"{head}.{claims}.{signature[:-9]}A{signature[-8:]}",
                    f"{head}.{claims}."):
        assert UNSIGNED in refusal(changed, [key], (algorithm,), caplog), changed


def test_a_key_verifies_by_its_own_algorithms_alone(caplog: pytest.LogCaptureFixture) -> None:
    for token, key, algorithms in ((A2, RSA_OF_A2, ("RS384", "PS256")), (A3, EC_OF_A3, ("RS256", "ES256"))):
        told = refusal(token, [key, RSA_OF_A2 | {"kid": "2"}, EC_OF_A3 | {"kid": "3"}], algorithms, caplog)
        assert ("MissingClaimError" in told) == ("ES256" in algorithms)


def test_what_is_signed_with_a_shared_secret_or_not_at_all_is_refused(caplog: pytest.LogCaptureFixture) -> None:
    """Also where the secret stands in the set: it is left out."""
    for token in (HS256, UNSECURED):
        told = refusal(token, [ITS_SECRET, RSA_OF_A2], ("RS256",), caplog)
        assert "MissingClaimError" not in told
    with pytest.raises(ValueError, match="no key"):
        signing_keys({"keys": [ITS_SECRET]}, ("RS256",))


RSA_OF_THE_SET = {
    "kty": "RSA", "e": "AQAB", "alg": "RS256", "kid": "2011-04-29", "n": (
        "0vx7agoebGcQSuuPiLJXZptN9nndrQmbXEps2aiAFbWhM78LhWx4cbbfAAtVT86zwu1RK7aPFFxuhDR1L6tSoc_BJECPebWKRXjBZCiFV4n3oknjhM"
        "stn64tZ_2W-5JsGY4Hc5n9yBXArwl93lqt7_RN5w6Cf0h4QyQ5v-65YGjQR0_FDW2QvzqY368QQMicAtaSqzs8KJZgnYb9c7d0zgdAZHzu6qMQvRL5"
        "hajrn1n91CbOpbISD08qNLyrdkt-bFTWhAI4vMQFh6WeZu0fM4lFd2NcRwr3XPksINHaQ-G_xBniIqbw0Ls1jF44-csFCur-kEgU8awapJzKnqDKgw")}
EC_OF_THE_SET = {
    "kty": "EC", "crv": "P-256", "use": "enc", "kid": "1", "x": "MKBCTNIcKUSDii11ySs3526iDZ8AiTo7Tu6KPAqv7D4",
    "y": "4Etl6SRW2YiLUrN5vfvVHuhp7x8PxltmWWlbbM4IFyM"}


def test_of_the_standard_s_set_the_key_for_encryption_signs_nothing() -> None:
    thumbprint = hashlib.sha256(json.dumps({name: RSA_OF_THE_SET[name] for name in ("e", "kty", "n")},
                                           separators=(",", ":")).encode()).digest()
    assert base64.urlsafe_b64encode(thumbprint) == b"NzbLsXh8uDCcd-6MNwXF4W_7noWXFZAfHkxZsRGC9Xs="
    found = signing_keys({"keys": [EC_OF_THE_SET, RSA_OF_THE_SET]}, ("ES256", "RS256", "RS384"))
    assert {kid: key.algorithms for kid, key in found.items()} == {"2011-04-29": {"RS256"}}
    for_signing = signing_keys({"keys": [EC_OF_THE_SET | {"use": "sig"}, RSA_OF_THE_SET]}, ("ES256", "RS256"))
    assert {kid: key.algorithms for kid, key in for_signing.items()} == {"1": {"ES256"}, "2011-04-29": {"RS256"}}
