"""Access keys on the wire."""

from service.rest.exact_fields import Group, Moment, Name, OneOf, Several, Text, Whole
from service.rest.openapi_layer.schemas import Answer, Request
from service.use_cases.keys import SCOPES


class KeyRequest(Request):
    """A key to be made."""

    name = Name(required=True, metadata={"description": "Whose it is: bar till, finance desk."})
    scopes = Several(OneOf(SCOPES), min=1, max=len(SCOPES), required=True)
    expires_at = Moment(allow_none=True, metadata={"description": "Null or left out: does not expire."})


class KeyAnswer(Answer):
    """A key, without its secret."""

    id = Text()
    name = Name()
    scopes = Several(OneOf(SCOPES))
    created_at = Moment()
    expires_at = Moment(allow_none=True)
    last_used_at = Moment(allow_none=True)
    revoked_at = Moment(allow_none=True)


class NewKeyAnswer(KeyAnswer):
    """A key with its secret, shown this once."""

    revision = Whole()
    key = Text(allow_none=True, metadata={"description": "The key itself; null in the answer to a repeated request."})


class KeyList(Answer):
    """Every key."""

    data = Several(Group(KeyAnswer))
