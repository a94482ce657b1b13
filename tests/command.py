"""The command line, run within the test's own process."""

from __future__ import annotations

from click.testing import CliRunner, Result

from focuschart.cli import main


def run(*arguments: object) -> Result:
    """Run a command with arguments as a shell would pass them; it must end without a traceback."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result
