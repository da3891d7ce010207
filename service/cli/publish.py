"""``reedgate publish``: builds for servers on other machines."""

from pathlib import Path

import click

from data_loaders.publish import current_build, publish_again, published_builds
from data_loaders.publish import publish as publish_build
from service.cli.common import local_store_option, store_path
from service.store.objects import objects_at


@click.command()
@click.argument("url")
@click.option("--to", "build_id", help="Go back to this build, which is published already.")
@click.option("--list", "listing", is_flag=True, help="List the published builds.")
@click.option(
    "--keep",
    default=5,
    show_default=True,
    type=click.IntRange(2, 1_000),
    help="Builds to keep there, this one among them; older ones are removed.",
)
@local_store_option
def publish(url: str, build_id: str | None, listing: bool, keep: int, store: Path | None) -> None:
    """Put the store's build where servers take it up.

    URL is s3://bucket/prefix or file:///folder. The build goes first, then a small pointer to it;
    a server whose REEDGATE_STORE is the same URL fetches it, checks its seal and takes it up
    without a request failing. Credentials for s3:// come from the environment
    (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_REGION, AWS_ENDPOINT_URL).

    \b
    Examples:
      reedgate publish s3://plants/reedgate
      reedgate publish s3://plants/reedgate --list
      reedgate publish s3://plants/reedgate --to 0123456789abcdef
    """
    if listing and build_id:
        raise click.UsageError("--list and --to do not go together.")
    objects = objects_at(url)
    if listing:
        current = current_build(objects)
        for build in published_builds(objects):
            mark = "  in use" if current is not None and build.key == current.key else ""
            click.echo(
                f"{build.build_id}  {build.published:%Y-%m-%d %H:%M:%S}Z"
                f"  {build.size:,} bytes{mark}"
            )
        return
    if build_id:
        done = publish_again(objects, build_id)
        click.echo(f"Servers now take up build {done.current.build_id}, published before.")
        return
    done = publish_build(objects, store_path(store), keep=keep)
    click.echo(
        f"Build {done.current.build_id}, {done.current.size:,} bytes, "
        f"{'sent' if done.sent else 'was there already'}; servers now take it up."
    )
    for build in done.removed:
        click.echo(f"Removed: {build.build_id} of {build.published:%Y-%m-%d %H:%M}Z.")
