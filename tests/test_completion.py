"""Tab completion, set up by the lines that the guide gives for each shell."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.shell_completion import BashComplete

from focuschart.cli import main

_GUIDE = Path(__file__).parents[1] / "focuschart" / "guide" / "commands.md"
_CHAPTER = _GUIDE.read_text("utf-8").partition("## Tab completion")[2].partition("\n## ")[0]
_BASH, _ZSH, _FISH = re.findall(r"```(?:sh|fish)\n(.*?)\n```", _CHAPTER, re.DOTALL)

ASKED = {
    "bash": f"""{_BASH}
COMP_WORDS=(focuschart guide pap); COMP_CWORD=2
_focuschart_completion focuschart
echo "${{COMPREPLY[@]}}" """,
    "zsh": f"""autoload -Uz compinit && compinit -u -d "$HOME/dump"
{_ZSH}
words=(focuschart guide pap); CURRENT=3
compadd() {{ print -- "$@" }}
_describe() {{ print -l -- "${{(@P)${{@[-1]}}}}" ${{(P)2}} ${{(P)3}} }}
_focuschart_completion""",
    "fish": f"""mkdir -p ~/.config/fish/completions
{_FISH}
complete -C "focuschart guide pap" """,
}
"""What a person's Tab does after "focuschart guide pap", asked without a person."""


@pytest.mark.parametrize("shell", list(ASKED))
def test_a_shell_completes(shell: str, tmp_path: Path) -> None:
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed")
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    home = {"HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path / ".config")}
    done = subprocess.run(
        [shell, "-c", ASKED[shell]], check=False, capture_output=True, text=True, cwd=tmp_path,
        env={**os.environ, **home, "PATH": path},
    )  # fmt: skip
    assert re.search(r"\bpaper\b", done.stdout), done.stderr


def completed(*words: object) -> list[str]:
    """Return what completes the last word."""
    *before, begun = map(str, words)
    completion = BashComplete(main, {}, "focuschart", "_FOCUSCHART_COMPLETE")
    return [item.value for item in completion.get_completions(before, begun)]


def test_rigs_of_the_kit_are_completed(tmp_path: Path) -> None:
    sample = Path(__file__).parents[1] / "sample_kits" / "two-lenses.toml"
    assert completed("chart", sample, "--rig", "portrait-5") == ["portrait-58"]
    assert completed("build", sample, "--rig", "") == ["portrait-85", "portrait-58"]
    (tmp_path / "bad.toml").write_text("rigs = 3")
    for kit in (tmp_path / "none.toml", tmp_path / "bad.toml", tmp_path):
        assert completed("chart", kit, "--rig", "") == []
    assert completed("chart", "--rig", "") == []
