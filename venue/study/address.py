"""Where a cluster answers: a host and a port, as `tcp://10.0.0.5:8786`."""

from __future__ import annotations

import re
from importlib.util import find_spec

from venue.errors import InputError

_ADDRESS = re.compile(r"(?:(?P<how>tcp|tls)://)?(?P<host>[A-Za-z0-9._-]+|\[[0-9A-Fa-f:.%]+\]):(?P<port>\d{1,5})")
_MOST_PORTS = 65_535


def check_address(address: str) -> str:
    """The address of a scheduler with how to talk to it, `tcp://` unless it says otherwise.

    Raises
    ------
    InputError
        If it is no address, or the library that talks to clusters is not installed.
    """
    found = _ADDRESS.fullmatch(address.strip())
    if found is None or not 1 <= int(found["port"]) <= _MOST_PORTS:
        raise InputError(
            f'--cluster {address}: is not HOST:PORT with a port from 1 to {_MOST_PORTS}; write it like "10.0.0.5:8786" '
            'or "tls://10.0.0.5:8786"'
        )
    if find_spec("distributed") is None:
        raise InputError(
            f"--cluster {address}: needs the library that talks to clusters; install venue with its extra: "
            'pip install "venue[cluster]"'
        )
    return f"{found['how'] or 'tcp'}://{found['host']}:{found['port']}"
