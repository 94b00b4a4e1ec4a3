"""The API document from the command line: what the service answers at /openapi.json."""

from pathlib import Path

import click

from service import wiring


@click.command()
@click.option("--output", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
              help="Write it to FILE in place of standard output.")
def openapi(output: Path | None) -> None:
    """Print the OpenAPI 3.1 document of this release."""
    document = wiring.openapi_document()
    if output is None:
        click.echo(document, nl=False)
    else:
        output.write_bytes(document)
        click.echo(f"Wrote {output}.", err=True)
