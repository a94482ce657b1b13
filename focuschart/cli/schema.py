"""focuschart schema: the JSON schema of a kit file."""

from __future__ import annotations

import click


@click.command()
def schema() -> None:
    """Print the JSON schema of a kit file, for editors."""
    import json

    from focuschart.kit.json_schema import json_schema

    click.echo(json.dumps(json_schema(), indent=2, ensure_ascii=False))
