"""Which address and port an application listens on."""

from __future__ import annotations

import errno
import ipaddress
import socket

from moondesk.service.errors import AddressError, BadInputError
from moondesk.service.settings.config import DEFAULT_PORT


def loopback_address(host: str) -> str:
    """The address to listen on. Raises AddressError for any that others could reach."""
    name = "127.0.0.1" if host.lower() == "localhost" else host.strip("[]")
    try:
        local = ipaddress.ip_address(name).is_loopback
    except ValueError:
        local = False
    if not local:
        raise AddressError(
            f"The desk listens to this machine only, not to {host}: it has no accounts yet.",
            "Leave --host away, or name 127.0.0.1.",
        )
    return name


def free_port(host: str, port: int | None, default: int = DEFAULT_PORT, may_move: bool = False) -> int:
    """The asked port, else the default one. Raises BadInputError where it is taken.

    A desk at another port than the one that a proxy, a bookmark or a colleague knows is not there; so only with
    may_move, and where none is asked, any free one is taken instead.
    """
    wanted = default if port is None else port
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for candidate in (wanted, 0) if port is None and may_move else (wanted,):
        with socket.socket(family) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, candidate))
            except OSError as error:
                if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                    raise BadInputError(
                        f"{host} cannot be listened on: {error.strerror}.",
                        "Name an address of this machine with --host.",
                    ) from error
                taken = error.errno == errno.EADDRINUSE
                continue
            return int(probe.getsockname()[1])
    if taken:
        raise BadInputError(
            f"Port {wanted} of {host} is taken: another program listens there, perhaps another desk.",
            "End that one, or choose another port with --port; 0 takes a free one.",
        )
    raise BadInputError(
        f"The system does not let this user listen on port {wanted}.", "Choose another above 1023 with --port."
    )
