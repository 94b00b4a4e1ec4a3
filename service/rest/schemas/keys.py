"""Access keys on the wire."""

from service.rest.fields.choices import OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Name, Text
from service.rest.fields.times import Moment
from service.rest.openapi_layer.schemas import Answer, Request
from service.use_cases.keys import MOST_PER_MINUTE, SCOPES


class KeyRequest(Request):
    """A key to be made."""

    name = Name(required=True, metadata=says("Whose it is: bar till, finance desk."))
    scopes = Several(OneOf(SCOPES), min=1, max=len(SCOPES), required=True, metadata=says(
        "What it opens. `admin` opens everything, `read` what `costs:read` opens; a key that writes and reads "
        "needs both."))
    expires_at = Moment(allow_none=True, metadata=says("Null or left out: does not expire."))
    requests_per_minute = Whole(min=1, max=MOST_PER_MINUTE, allow_none=True, metadata=says(
        "How many requests a minute it may make; an answer of 304 counts a tenth. Null or left out: as the service's "
        "setting says."))


class KeyAnswer(Answer):
    """A key, without its secret."""

    id = Text(metadata=says("Its public id, by which it is revoked."))
    name = Name(metadata=says("Whose it is."))
    scopes = Several(OneOf(SCOPES), metadata=says("What it opens."))
    created_at = Moment(metadata=says("When it was made, in UTC."))
    expires_at = Moment(allow_none=True, metadata=says("From when on it opens nothing; null: it does not expire."))
    requests_per_minute = Whole(allow_none=True, metadata=says(
        "How many requests a minute it may make; null: as the service's setting says."))
    last_used_at = Moment(allow_none=True, metadata=says("About when it was last used, to the minute; null: never."))
    revoked_at = Moment(allow_none=True, metadata=says("When it was revoked; null: it was not."))


class NewKeyAnswer(KeyAnswer):
    """A key with its secret, shown this once."""

    revision = Whole(metadata=says("The revision that made it."))
    key = Text(allow_none=True, metadata=says("The key itself; null in the answer to a repeated request."))


class KeyList(Answer):
    """Every key."""

    data = Several(Group(KeyAnswer), metadata=says("In the order of making."))
