"""The packages that an installed coach brings along, as their own metadata tell of them.

python -m tests.outside.packages        prints the table of DEVELOPERS.md
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
EXTRAS = ("recording", "ensemble")
_NAME = re.compile(r"[A-Za-z0-9._-]+")
# As metadata spell it, by the names of SPDX.
_SPELT = {
    "GNU/GPL version 3": "GPL-3.0-or-later",
    "MPLv2.0": "MPL-2.0",
    "Copyright & License": "MIT",
    "BSD 3-Clause License": "BSD-3-Clause",
    "License :: OSI Approved :: MIT License": "MIT",
    "License :: OSI Approved :: BSD License": "BSD-3-Clause",
}
# May be part of a work under GPL-3.0-or-later (gnu.org, "Various Licenses and Comments about Them",
# from memory): the Apache licence and the LGPL of version 3 with version 3 of the GPL.
COMPATIBLE = {
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "GPL-3.0-or-later",
    "LGPL-3.0-only", "LGPL-3.0-or-later", "MIT", "MIT-0", "MPL-2.0", "PSF-2.0",
    "Zlib",
}  # fmt: skip


def named(requirement: str) -> str:
    """ "numpy" of "numpy>=1.26; python_version < '3.13'"."""
    found = _NAME.match(requirement)
    assert found is not None, requirement
    return found[0].lower().replace("_", "-")


def wanted() -> list[str]:
    """What pyproject.toml asks for, extras with it but for the tests'."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    optional = [one for extra in EXTRAS for one in told["optional-dependencies"][extra]]
    return sorted({named(one) for one in [*told["dependencies"], *optional]})


def installed(names: list[str] | None = None) -> dict[str, Distribution]:
    """These packages and all that they ask for, as far as they are here."""
    found: dict[str, Distribution] = {}
    left = list(wanted() if names is None else names)
    while left:
        name = left.pop()
        if name in found:
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:
            continue
        left += [named(one) for one in found[name].requires or () if "extra ==" not in one]
    return dict(sorted(found.items()))


def licence(package: Distribution) -> str:
    """By SPDX: what it says itself, or by its classifier."""
    told = package.metadata
    said = told.get("License-Expression") or (told.get("License") or "").strip().split("\n")[0]
    classifiers = [one for one in told.get_all("Classifier") or () if one.startswith("License")]
    for words in (said, *classifiers):
        if words in _SPELT or set(parts(words)) <= COMPATIBLE:
            return _SPELT.get(words, words)
    return said or _in_file(package)


def _in_file(package: Distribution) -> str:
    """The first line of the licence that lies beside the metadata."""
    for file in package.files or ():
        if "licen" in file.name.lower() and ".dist-info" in str(file):
            first = file.read_text("utf-8").strip().split("\n")[0]
            return first.removesuffix(" License")
    return "not told"


def parts(expression: str) -> list[str]:
    """The licences in an expression of SPDX."""
    return re.split(r" AND | OR ", expression)


def table() -> Iterator[str]:
    yield "| package | looked at | licence |"
    yield "|---|---|---|"
    for name, package in installed().items():
        yield f"| {name} | {package.version} | {licence(package)} |"


if __name__ == "__main__":
    sys.stdout.write("\n".join(table()) + "\n")
