"""``reedgate demo`` and ``reedgate serve``."""

from pathlib import Path

import click

from service.commands.common import store_option, store_path


@click.command()
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address to listen on; the default takes calls from this machine alone."
)
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@store_option
def serve(host: str, port: int, store: Path | None) -> None:
    """Serve the API and the page.

    \b
    Example:  reedgate serve --port 8000
    """
    run_server(store_path(store), host, port)


def run_server(store: Path, host: str, port: int) -> None:
    import uvicorn

    from service.api.app import create_app

    uvicorn.run(create_app(store), host=host, port=port, log_level="info")


@click.command()
@click.option("--serve", "then_serve", is_flag=True, help="Then serve the page and the API.")
@store_option
def demo(then_serve: bool, store: Path | None) -> None:
    """Build a store from the reference data and the invented demo data, and answer the demo's questions.

    \b
    Example:  reedgate demo
    """
    from service.commands.demonstration import show

    path = store_path(store)
    show(path)
    if then_serve:
        run_server(path, "127.0.0.1", 8000)
