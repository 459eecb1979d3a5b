"""Which address and port an application listens on."""

from __future__ import annotations

import ipaddress
import socket

from service.config import DEFAULT_PORT
from service.errors import AddressError, BadInputError


def loopback_address(host: str) -> str:
    """The address to listen on. Raises AddressError for any that others could reach."""
    name = "127.0.0.1" if host.lower() == "localhost" else host.strip("[]")
    try:
        local = ipaddress.ip_address(name).is_loopback
    except ValueError:
        local = False
    if not local:
        raise AddressError(f"The desk listens to this machine only, not to {host}: it has no accounts yet.",
                           "Leave --host away, or name 127.0.0.1.")
    return name


def free_port(host: str, port: int | None, default: int = DEFAULT_PORT) -> int:
    """The asked port; where none is asked the default one, or any free one if that is taken. BadInputError if none."""
    wanted = default if port is None else port
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for candidate in (wanted, 0) if port is None else (wanted,):
        with socket.socket(family) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, candidate))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise BadInputError(f"Port {wanted} is taken.", "Choose another with --port; 0 takes a free one.")
