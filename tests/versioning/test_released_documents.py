"""The promise of the versions: the API document breaks no client that was written against the last released one.

`openapi/released/<version>.json` holds the document as it was released, and is never changed. Nothing has been
released yet: 0.1.0 is what stood when the promise was made. At a release, `openapi/openapi.json` is copied there under
its version.
"""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from openapi_spec_validator import OpenAPIV31SpecValidator

from tests.rest.api_document import DOCUMENT
from tests.versioning.openapi_breaks import breaks

RELEASED = Path(__file__).parents[2] / "openapi" / "released"


def last_released() -> dict[str, Any]:
    versions = {tuple(int(part) for part in path.stem.split(".")): path for path in RELEASED.glob("*.json")}
    document: dict[str, Any] = json.loads(versions[max(versions)].read_text("utf-8"))
    return document


def test_nothing_breaks_a_client_of_the_last_released_document() -> None:
    found = breaks(last_released(), DOCUMENT, datetime.now(UTC).date())
    assert found == [], "v1 breaks; see the promise at /docs/versioning. Mend it, or deprecate and keep it:\n" + (
        "\n".join(found))


def test_what_was_released_is_a_valid_document() -> None:
    assert list(OpenAPIV31SpecValidator(last_released()).iter_errors()) == []
