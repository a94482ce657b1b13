"""Print the lowest versions that pyproject.toml allows, as constraints for pip."""

from __future__ import annotations

import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text("utf-8"))
allowed = project["project"]
extras = allowed["optional-dependencies"]
for requirement in (*allowed["dependencies"], *extras["photo"], *extras["test"]):
    if requirement.startswith(f"{allowed['name']}["):
        continue  # an extra that holds another one
    name, found, version = requirement.partition(">=")
    if not found or not version.replace(".", "").isdigit():
        raise SystemExit(f"pyproject.toml: {requirement!r} states no lowest version: name>=1.2")
    print(f"{name}=={version}")
