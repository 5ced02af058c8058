"""Commands for the day itself: serve a competition, and export what its journal holds."""

from __future__ import annotations

import argparse
import asyncio
import logging
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

from tallywire.cli.pages import announced
from tallywire.cli.push_options import add_push_options, pushes_of
from tallywire.cli.redis_options import add_redis_options, add_which_journal, redis_options
from tallywire.core.errors import JournalTaken, TallywireError
from tallywire.core.model.competition import Competition
from tallywire.shell.bounded_log import bounded_log
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import make_data_folder
from tallywire.shell.edges import keep_for_edges
from tallywire.shell.export import export, export_redis, keep_beside, keep_competition, take_in
from tallywire.shell.files import load_checked, load_whole
from tallywire.shell.journal.opening import RedisOptions
from tallywire.shell.log_forms import LOG_FORMS
from tallywire.shell.workbench import Workbench
from tallywire.web.bounds import ADDRESS_GUESTS
from tallywire.web.hosts import is_host
from tallywire.web.origin import is_origin
from tallywire.web.serving import Running, serve
from tallywire.web.settings import DEFAULT_PORT, Settings
from tallywire.web.tls import Tls
from tallywire.wire.checked_recording import Bundle, CheckedRecording

_log = logging.getLogger(__name__)


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add serve and export."""
    serve_command = commands.add_parser("serve", help="run a competition live")
    serve_command.add_argument(
        "competition", type=Path, metavar="COMPETITION", help="a competition file, or an export to go on with"
    )
    add_server_options(serve_command, data=Path("tallywire-data"))
    serve_command.add_argument(
        "--mirror",
        type=Path,
        metavar="DIR",
        help="folder on another disk for a second copy, written right after each acknowledgement",
    )
    add_redis_options(serve_command)
    _add_guest_options(serve_command)
    serve_command.add_argument(
        "--certificate", type=Path, metavar="FILE", help="serve https and wss with this certificate (PEM)"
    )
    serve_command.add_argument(
        "--private-key", type=Path, metavar="FILE", help="the certificate's private key (PEM, without a password)"
    )
    serve_command.add_argument(
        "--tls",
        choices=["self-signed"],
        help="serve https and wss with a certificate of the server's own, made once and kept in the data folder",
    )
    serve_command.set_defaults(run=run_serve)
    export = commands.add_parser(
        "export", help="write a data folder, in use or not, as one file: competition and facts"
    )
    add_which_journal(export, "a server's --data folder")
    export.add_argument("--refused", action="store_true", help="include the facts that were refused, marked as such")
    export.set_defaults(run=run_export)


def add_server_options(command: argparse.ArgumentParser, *, data: Path | None) -> None:
    """Add where to listen, under which names, where to keep the journal, and where calls are worked out."""
    where = "default: a new temporary folder" if data is None else "default: %(default)s"
    command.add_argument("--data", type=Path, default=data, metavar="DIR", help=f"folder for the journal; {where}")
    _add_address_options(command)
    command.add_argument(
        "--print-links",
        action="store_true",
        help="print the links with keys also where the server can be reached from other machines",
    )
    add_push_options(command)
    add_helper_option(command)


def server_settings(arguments: argparse.Namespace, data: Path) -> Settings:
    """Give the settings that `add_server_options` asks for, with the journal in the folder `data`."""
    return Settings(
        data=data,
        host=arguments.host,
        port=arguments.port,
        allow_hosts=allowed_hosts(arguments),
        public_url=arguments.public_url,
        helper=arguments.helper,
        print_links=arguments.print_links,
        pushes=pushes_of(arguments),
        push_key=arguments.push_key,
    )


def add_helper_option(command: argparse.ArgumentParser) -> None:
    """Add where calls and standings are worked out."""
    command.add_argument(
        "--helper",
        choices=["process", "thread"],
        default="process",
        help="where calls and standings are made; a thread takes less memory and slows taps; default: %(default)s",
    )


def add_listening_options(command: argparse.ArgumentParser) -> None:
    """Add where to listen, under which names, and who may connect."""
    _add_address_options(command)
    _add_guest_options(command)


def _add_guest_options(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--allow-origin",
        type=_origin,
        action="append",
        default=[],
        metavar="ORIGIN",
        help="another address whose pages may connect, such as https://pages.example; may be repeated",
    )
    command.add_argument(
        "--address-limit",
        type=_count,
        default=ADDRESS_GUESTS,
        metavar="N",
        help="how many of one address may watch; more where a proxy stands in front; default: %(default)s",
    )
    command.add_argument(
        "--trusted-proxy",
        type=_address,
        action="append",
        default=[],
        metavar="ADDRESS",
        help="address of a proxy in front, whose X-Forwarded-For says who a client is; may be repeated",
    )


def _add_address_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("--port", type=_port, default=DEFAULT_PORT, metavar="N", help="default: %(default)s")
    command.add_argument(
        "--host", default="127.0.0.1", help="address to listen on; 0.0.0.0 for the venue network; default: %(default)s"
    )
    command.add_argument(
        "--allow-host",
        type=_name,
        action="append",
        default=[],
        metavar="NAME",
        help="another name of this server, such as scores.example, beside its addresses; may be repeated",
    )
    command.add_argument(
        "--log",
        choices=list(LOG_FORMS),
        default="text",
        help="how warnings are written to standard error: a line of text, or of JSON; default: %(default)s",
    )
    command.add_argument(
        "--public-url",
        type=_url,
        metavar="URL",
        help="where a proxy has this server, such as https://scores.example: links begin with it",
    )


def run_serve(arguments: argparse.Namespace) -> int:
    """Serve until stopped; a recording of a whole competition goes on where it ended."""
    loaded = load_whole(arguments.competition)
    redis = redis_options(arguments)
    _go_on_with(load_checked(arguments.competition), arguments.data, redis)
    tls = _tls(arguments)
    settings = replace(
        server_settings(arguments, arguments.data),
        mirror=arguments.mirror,
        redis=redis,
        allow_origins=tuple(arguments.allow_origin),
        address_limit=arguments.address_limit,
        trusted_proxies=tuple(arguments.trusted_proxy),
        tls=tls,
        fingerprint=None if tls is None else tls.fingerprint,
    )

    with bounded_log(arguments.log):
        serve_file(arguments.competition, settings, loaded=loaded)
    return 0


def serve_file(path: Path, settings: Settings, *, loaded: tuple[Competition, Bundle] | None = None) -> None:
    """Serve a competition file until stopped; where its page asks for it, again with what the file says then.

    `loaded` is what it says now, where it was read just before.
    """
    while True:
        (competition, bundle), loaded = loaded or load_whole(path), None
        bench = Workbench(path) if settings.redis is None and path.name == bundle.main else None
        ports: list[int] = []
        announce = partial(_announce, competition, bundle, settings, ports)
        if not _serve_to_the_end(competition, settings, announce, bench):
            settings = _to_stand_by(settings)
        elif bench is None or not bench.renewed.is_set():
            return
        # Pages that wait for the server look where it was, also where any free port was asked for.
        settings = replace(settings, port=ports[0]) if ports else settings


def _announce(competition: Competition, bundle: Bundle, settings: Settings, ports: list[int], server: Running) -> None:
    ports.append(urlsplit(server.address).port or settings.port)
    keep_competition(settings.data, bundle)
    if settings.redis is not None:
        _keep_for_edges(settings.redis, bundle, server)
    if settings.mirror is not None:
        keep_beside(settings.data, settings.mirror)
    where = settings.data if settings.redis is None else "Redis"
    print(f"{competition.name}: live, journal in {where}")
    print(announced(server.addresses, server.live.keys, competition, settings=settings))
    if settings.fingerprint is not None:
        print(f"  SHA-256 of the certificate, to be compared once on each device:\n  {settings.fingerprint}")
    if settings.sends_keys_in_the_clear:
        print("  everybody on this network can read keys on their way: --tls self-signed hides them")
    print("stop with Ctrl-C", flush=True)


def _go_on_with(held: CheckedRecording | None, folder: Path, redis: RedisOptions | None) -> None:
    if held is None:
        return
    if redis is not None:
        raise TallywireError("found --redis and an export to go on with, expected a competition file")
    take_in(held, folder, received_unix_ms=SystemClock().unix_ms())


def _keep_for_edges(redis: RedisOptions, bundle: Bundle, server: Running) -> None:
    """Tell edges of this server, now and whenever Redis may have forgotten it."""
    storage = server.live.storage
    keep = partial(keep_for_edges, redis, bundle, server.addresses[0], storage=storage)
    keep()
    storage.at_epoch(keep)


def _serve_to_the_end(
    competition: Competition, settings: Settings, announce: Callable[[Running], None], bench: Workbench | None
) -> bool:
    """Serve until stopped or renewed; False when another server has taken over."""
    try:
        asyncio.run(serve(competition, settings, on_listening=announce, bench=bench))
    except JournalTaken as exc:
        _log.warning("%s: standing by from now on", exc)
        return False
    return True


def _to_stand_by(settings: Settings) -> Settings:
    return settings if settings.redis is None else replace(settings, redis=replace(settings.redis, standby=True))


def run_export(arguments: argparse.Namespace) -> int:
    """Write a recording to standard output."""
    refused = arguments.refused
    redis = None if arguments.redis is None else RedisOptions(url=arguments.redis)
    lines = export(arguments.data, refused=refused) if redis is None else export_redis(redis, refused=refused)
    for line in lines:
        sys.stdout.buffer.write(line)
    sys.stdout.buffer.flush()
    return 0


def _tls(arguments: argparse.Namespace) -> Tls | None:
    certificate, private_key = arguments.certificate, arguments.private_key
    if (certificate is None) != (private_key is None):
        raise TallywireError("found one of --certificate and --private-key, expected both or none")
    if arguments.tls is None:
        return None if certificate is None else Tls(certificate=certificate, private_key=private_key)
    if certificate is not None:
        raise TallywireError("found --tls self-signed and --certificate, expected one of them")
    make_data_folder(arguments.data)
    # Cryptography takes a while to import, and few servers make a certificate.
    from tallywire.web.self_signed import names_of, self_signed

    return self_signed(arguments.data, names_of(arguments.host, allowed_hosts(arguments)))


def allowed_hosts(arguments: argparse.Namespace) -> tuple[str, ...]:
    """Give the other names of the server: those named, and that of its public address."""
    public = () if arguments.public_url is None else (urlsplit(arguments.public_url).hostname or "",)
    return (*arguments.allow_host, *public)


def _url(text: str) -> str:
    parts = urlsplit(text)
    if parts.scheme not in ("http", "https") or not is_host(parts.hostname or "") or parts.path not in ("", "/"):
        raise argparse.ArgumentTypeError(f'found "{text}", expected an address such as https://scores.example')
    return text.rstrip("/")


def _name(text: str) -> str:
    if not is_host(text):
        raise argparse.ArgumentTypeError(f'found "{text}", expected a name or an address, without http:// and a port')
    return text


def _address(text: str) -> str:
    try:
        return str(ip_address(text.strip("[]")))
    except ValueError:
        raise argparse.ArgumentTypeError(f'found "{text}", expected an address such as 127.0.0.1') from None


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 100_000):
        raise argparse.ArgumentTypeError(f'found "{text}", expected a number from 1 to 100000')
    return int(text)


def _origin(text: str) -> str:
    if not is_origin(text):
        found = f'found "{text}", expected the beginning of an address, such as https://pages.example'
        raise argparse.ArgumentTypeError(found)
    return text


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) < 65_536):
        raise argparse.ArgumentTypeError(f'found "{text}", expected a port from 0 to 65535')
    return int(text)
