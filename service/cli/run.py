"""``reedgate demo`` and ``reedgate serve``."""

import ipaddress
import os
import tempfile
from pathlib import Path

import click

from service.cli.common import local_store_option, store_path
from service.settings import PREFIX, Settings, is_address, settings
from service.store.tokens import TokenFile


@click.command()
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on; the default takes calls from this machine alone.",
)
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option(
    "--workers",
    default=1,
    show_default=True,
    type=click.IntRange(1, 64),
    help="Processes that answer; each holds the law in memory.",
)
@click.option(
    "--store",
    envvar="REEDGATE_STORE",
    help="Path of the store, or the address it is published to; a newer build there is taken up. "
    "[default: $REEDGATE_STORE, else the user's data folder]",
)
def serve(host: str, port: int, workers: int, store: str | None) -> None:
    """Serve the API and the page.

    \b
    Example:  reedgate serve --port 8000 --workers 2
    """
    run_server(store or settings().store, host, port, workers)


_WORKER_ANSWERS_S = 60
"""How long a worker may be silent before it is replaced (common practice, no source)."""


_KEEP_ALIVE_S = 75


def warnings_of(host: str, config: Settings, tokens: TokenFile) -> list[str]:
    """What an operator should know before a service is open to others."""
    found = []
    if not _is_loopback(host) and not config.require_token and not config.rate_per_minute:
        found.append(
            f"on {host} anyone who reaches this machine may ask without a token and as often as "
            "they like; set REEDGATE_REQUIRE_TOKEN or REEDGATE_RATE_PER_MINUTE."
        )
    if tokens.open_to_others():
        found.append(
            f"other accounts of this machine may read or change {tokens.path.name}; "
            f"chmod 600 {tokens.path}"
        )
    return found


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def run_server(store: str, host: str, port: int, workers: int = 1) -> None:
    """Serve until stopped (SIGTERM or SIGINT); then let the requests under way end.

    Args:
        store: its path, or the address it is published to.
    """
    import uvicorn

    from service.logs import log_config

    # Workers are processes of their own and read their settings from the environment.
    os.environ[f"{PREFIX}STORE"] = store if is_address(store) else str(Path(store).absolute())
    settings.cache_clear()
    config = settings()
    for warning in warnings_of(host, config, TokenFile(config.tokens_path(config.store_path))):
        click.echo(f"Warning: {warning}", err=True)
    with tempfile.TemporaryDirectory(prefix="reedgate-metrics-") as folder:
        if workers > 1:
            os.environ["PROMETHEUS_MULTIPROC_DIR"] = folder
        uvicorn.run(
            "service.api.app:create_worker",
            factory=True,
            host=host,
            port=port,
            workers=workers,
            http="service.api.protocol:LimitedProtocol",
            # A worker answers once it has loaded its code; on a busy machine that takes a while.
            timeout_worker_healthcheck=_WORKER_ANSWERS_S,
            log_config=log_config(config.log_level, contents=config.log_contents),
            access_log=False,
            server_header=False,
            proxy_headers=bool(config.trusted_proxies),
            forwarded_allow_ips=config.trusted_proxies or None,
            # Longer than clients and proxies keep a connection, so that it is they who close it: a
            # server that does may do so while the next request is on its way.
            timeout_keep_alive=_KEEP_ALIVE_S,
            timeout_graceful_shutdown=config.shutdown_seconds,
        )


@click.command()
@click.option("--serve", "then_serve", is_flag=True, help="Then serve the page and the API.")
@local_store_option
def demo(then_serve: bool, store: Path | None) -> None:
    """Build a store from the reference data and the invented demo data, and answer the demo's
    questions.

    \b
    Example:  reedgate demo
    """
    from service.cli.demonstration import show

    path = store_path(store)
    show(path)
    if then_serve:
        run_server(str(path), "127.0.0.1", 8000)
