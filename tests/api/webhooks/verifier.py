"""A verifier written from the Standard Webhooks specification, without the library that signs.

Source: Standard Webhooks specification 1.0, "Verifying webhook authenticity": the signed content is
``{webhook-id}.{webhook-timestamp}.{body}``, HMAC-SHA256 with the base64-decoded part of the secret after ``whsec_``,
base64-encoded after "v1,"; several signatures are separated by spaces; the timestamp is checked against a tolerance.
"""

import base64
import hashlib
import hmac
import time

TOLERANCE_SECONDS = 300


class UnverifiedError(Exception):
    pass


def verify(secret, headers, body, *, now=None):
    """Let a posted event through; gives its id.

    Args:
        secret: "whsec_…".
        headers: as received, names in any case.
        body: bytes as received.
    """
    named = {name.lower(): value for name, value in headers.items()}
    try:
        identity, stamp, given = (named[f"webhook-{name}"] for name in ("id", "timestamp", "signature"))
    except KeyError as missing:
        raise UnverifiedError(f"no {missing}") from missing
    if abs((time.time() if now is None else now) - int(stamp)) > TOLERANCE_SECONDS:
        raise UnverifiedError("the timestamp is too far from now")
    assert secret.startswith("whsec_")
    key = base64.b64decode(secret.removeprefix("whsec_"), validate=True)
    signed = b".".join([identity.encode(), stamp.encode(), body])
    wanted = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
    for signature in given.split(" "):
        version, _, text = signature.partition(",")
        if version == "v1" and hmac.compare_digest(text, wanted):
            return identity
    raise UnverifiedError("no signature is this secret's")
