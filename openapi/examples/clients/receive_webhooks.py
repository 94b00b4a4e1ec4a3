"""Receive webhooks and verify who sent them, with nothing but Python's standard library.

    SEAMCOST_WEBHOOK_SECRET=whsec_... python receive_webhooks.py 8080

Prints each message once. `verified` is all that a receiver of your own needs. Put a proxy with TLS before it: the
service posts to https alone. Signatures are as in Standard Webhooks 1.0.0.
"""

import base64
import hashlib
import hmac
import json
import os
import sys
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

TOLERANCE_SECONDS = 300
LONGEST_BODY = 100_000
SEEN = set()  # in a receiver of your own, the ids of the last days, in your database


class NotVerified(Exception):
    """The message is not from whom it should be, or too old, or was changed on the way."""


def verified(secret, fields, body, now=None):
    """The message, if its signature holds.

    `fields` are the header fields by their names in lower case, `body` the bytes as they came: verify before you parse.
    """
    try:
        message_id, timestamp = fields["webhook-id"], fields["webhook-timestamp"]
        age = (time.time() if now is None else now) - int(timestamp)
    except (KeyError, ValueError):
        raise NotVerified("a header field of the signature is missing") from None
    if abs(age) > TOLERANCE_SECONDS:  # else a message that somebody recorded could be played again later
        raise NotVerified("the message is too old, or the clocks differ")
    key = base64.b64decode(secret.removeprefix("whsec_"))
    signed = f"{message_id}.{timestamp}.".encode() + body
    expected = b"v1," + base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest())
    # While a secret is being rotated there are two signatures; one that holds is enough.
    given = fields.get("webhook-signature", "").encode().split(b" ")
    if not any(hmac.compare_digest(expected, each) for each in given):
        raise NotVerified("the signature does not hold")
    return json.loads(body)


class Receiver(BaseHTTPRequestHandler):
    """Answers at once; what takes long is done after the answer."""

    def do_POST(self):
        length = int(self.headers.get("Content-Length", 0))
        if length > LONGEST_BODY:
            self.answer(413)
            return
        body = self.rfile.read(length)
        fields = {name.lower(): value for name, value in self.headers.items()}
        try:
            message = verified(os.environ["SEAMCOST_WEBHOOK_SECRET"], fields, body)
        except NotVerified as reason:
            print(f"refused: {reason}", file=sys.stderr, flush=True)
            self.answer(401)
            return
        self.answer(204)
        if fields["webhook-id"] not in SEEN:  # it comes at least once, perhaps again
            SEEN.add(fields["webhook-id"])
            print(message["type"], json.dumps(message["data"]), flush=True)

    def answer(self, status):
        self.send_response(status)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_):
        """No line for every request."""


if __name__ == "__main__":
    ThreadingHTTPServer(("127.0.0.1", int(sys.argv[1])), Receiver).serve_forever()
