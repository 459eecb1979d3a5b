"""From where the desk may be reached, decided without the web: host names, addresses, and what needs https. Pure.

While there are no accounts the desk answers this machine only, by this machine's names, and nothing that a proxy passes
on: whoever gets through could do everything.

With accounts it may be reached from elsewhere, by https alone, for passwords and sessions travel with the requests.
The program that serves it speaks plain http, so that a proxy with a certificate stands before it:

    [desk]
    address = "https://desk.example.org"     the one name that is answered beside this machine's own
    proxies = ["127.0.0.1"]                  who may pass requests on; their X-Forwarded-For is believed

The proxy stands on the same machine, best; then `--host` is not needed at all. Where it stands on another one,
`moondesk serve --host` listens beyond this machine, only with an account, an https address and a proxy named, and then
answers only those proxies; the line between them and the desk is plain and must be nobody else's.
"""

from __future__ import annotations

import ipaddress
from urllib.parse import urlsplit

from moondesk.service.errors import AddressError
from moondesk.service.settings.config import Config
from moondesk.service.web.listening import loopback_address

LOCAL_NAMES = ("127.0.0.1", "localhost", "[::1]")
FIRST_ACCOUNT = "Open the desk on the machine it runs on and set it up: then it has an account to log in with."


def host_name(host: str) -> str:
    """The name in a Host header, without its port, in small letters."""
    return (host.rpartition(":")[0] if ":" in host.rpartition("]")[2] else host).lower()


def refusal(config: Config, host: str, remote: str, forwarded: bool, has_accounts: bool) -> str:
    """Why a request is not answered, as a sentence; empty: it is.

    host: the Host header. remote: the address of who connected. forwarded: whether a proxy says that it passes it on.
    A page elsewhere that gets its own name to point at this machine must not read the desk: hence the names.
    """
    name = host_name(host)
    if name not in LOCAL_NAMES:
        if not config.address or name != _name_of(config.address):
            return "The desk does not answer under this name."
        if not has_accounts:
            return f"The desk has no accounts yet and answers on its own machine only. {FIRST_ACCOUNT}"
    elif forwarded and not has_accounts:
        return f"The desk has no accounts yet and answers nothing that is passed on to it. {FIRST_ACCOUNT}"
    if not (_is_loopback(remote) or (has_accounts and remote in config.proxies)):
        return "The desk is reached through its https address only."
    return ""


def is_here(host: str, remote: str, forwarded: bool) -> bool:
    """Whether it is who sits at this machine that asks, by its own name, as far as a request can tell."""
    return not forwarded and host_name(host) in LOCAL_NAMES and _is_loopback(remote)


def is_secure(config: Config, host: str, forwarded: bool) -> bool:
    """Whether cookies are for https alone: always, but for who asks this machine by its own name, sitting at it."""
    return bool(config.address) and (forwarded or host_name(host) not in LOCAL_NAMES)


def listening_address(host: str, config: Config, has_accounts: bool) -> str:
    """The address to listen on. Raises AddressError for one that others could reach and should not."""
    try:
        return loopback_address(host)
    except AddressError as error:
        if not has_accounts:
            raise AddressError(str(error), f"Leave --host away, or name 127.0.0.1. {FIRST_ACCOUNT}") from None
    try:
        address = str(ipaddress.ip_address(host.strip("[]")))
    except ValueError:
        raise AddressError(
            f"{host} is no address to listen on.", "Name one of this machine, or 0.0.0.0 for all of them."
        ) from None
    if not config.address or not config.proxies:
        raise AddressError(
            "Beyond this machine the desk is reached by https (TLS) only, or passwords could be read on the way.",
            "Put a proxy with a certificate before it and name both in moondesk.toml: [desk] address = "
            '"https://...", proxies = ["the proxy\'s address"]. With the proxy on this machine, leave --host away.',
        )
    return address


def _name_of(address: str) -> str:
    return host_name(urlsplit(address).netloc)


def _is_loopback(remote: str) -> bool:
    try:
        address = ipaddress.ip_address(remote)
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return bool((mapped or address).is_loopback)
