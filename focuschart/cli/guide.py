"""focuschart guide: what README has no room for, without a network."""

from __future__ import annotations

import re
import sys

import click
from click.shell_completion import CompletionItem

_WIDEST = 100
_TO_TOPIC = re.compile(r"\[([^\]]+)\]\(([a-z-]+)\.md(?:#[^)]*)?\)")
_ELSEWHERE = re.compile(r"\[([^\]]+)\]\((?:#|\.\./)[^)]*\)")


def _complete(_ctx: click.Context, _param: click.Parameter, begun: str) -> list[CompletionItem]:
    from focuschart.store.guide import topics

    known = topics()
    return [CompletionItem(t.name, help=t.about) for t in known if t.name.startswith(begun)]


@click.command()
@click.argument("topic", required=False, shell_complete=_complete)
def guide(topic: str | None) -> None:
    """Show a topic of the guide; without one, list the topics."""
    from focuschart.store.guide import topic_text, topics

    if topic is None:
        known = topics()
        width = max(len(each.name) for each in known)
        for each in known:
            click.echo(f"  {each.name:<{width}}  {each.about}")
        click.echo(f"Show one of them: focuschart guide {known[0].name}")
        return
    text = topic_text(topic)
    if sys.stdout.isatty():
        click.echo_via_pager(_set(text))
    else:
        click.echo(text, nl=False)


def _set(markdown: str) -> str:
    """Return Markdown as it is set on a terminal; a link to a topic names its command."""
    from rich.console import Console
    from rich.markdown import Markdown

    plain = _ELSEWHERE.sub(r"\1", _TO_TOPIC.sub(r"\1 (`focuschart guide \2`)", markdown))
    console = Console()
    console.width = min(console.width, _WIDEST)
    with console.capture() as capture:
        console.print(Markdown(plain, hyperlinks=False))
    return capture.get()
