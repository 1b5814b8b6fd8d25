"""How a program asks, in tests: with its key, with the mark of what it read."""

import json

from tests.people import program, sending_client


def whole_client(lender):
    """A program of ``lender`` with every scope."""
    return sending_client(program("Ward system", lender))


def ask(client, method, address, sent=None, **headers):
    headers = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.generic(method, address, json.dumps(sent or {}), "application/json", headers=headers)


def make(client, address, sent, key="ward-system-1"):
    return ask(client, "POST", address, sent, Idempotency_Key=key)


def etag(client, address):
    return client.get(address).headers["ETag"]


def change(client, method, address, sent, read_at=None):
    """Change what stands at ``address`` (or is read at ``read_at``) in the state in which it stands now."""
    return ask(client, method, address, sent, If_Match=etag(client, read_at or address))
