"""The API document of the whole service and the judge of answers over it: made once for all tests that read them, which
takes a second. Nobody changes them."""

import json
from typing import Any

from service import wiring
from tests.answer_validator import AnswerValidator

DOCUMENT: dict[str, Any] = json.loads(wiring.openapi_document())
VALIDATOR = AnswerValidator(DOCUMENT)
