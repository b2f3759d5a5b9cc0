"""The table of licences names what pyproject.toml depends on, and what packages say of themselves."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, files, metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
TEXT = (ROOT / "LICENCES.md").read_text(encoding="utf-8")
SECTIONS = {
    "Needed to run": PROJECT["dependencies"],
    "Needed on a cluster only": PROJECT["optional-dependencies"]["cluster"],
    "Needed to test only": PROJECT["optional-dependencies"]["test"],
}
# a word of the table -> how a package may put it
FAMILIES = {"MIT": "MIT", "BSD": "BSD", "PSF": "PSF|Python Software Foundation", "MPL": "MPL",
            "Apache": "Apache", "GPL": "GPL|GNU General Public"}  # fmt: skip


def section(heading: str) -> dict[str, str]:
    body = TEXT.split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]
    return dict(re.findall(r"^\| ([\w.-]+) \| (.+) \|$", body, re.MULTILINE)[1:])


def name_of(requirement: str) -> str:
    return re.match(r"[\w.-]+", requirement)[0]  # type: ignore[index]


@pytest.mark.parametrize("heading", SECTIONS)
def test_the_table_is_what_the_project_depends_on(heading: str) -> None:
    assert list(section(heading)) == [name_of(requirement) for requirement in SECTIONS[heading]]


@pytest.mark.parametrize(
    ("package", "terms"), [row for heading in SECTIONS for row in section(heading).items()]
)
def test_packages_say_the_same_of_themselves(package: str, terms: str) -> None:
    try:
        known = metadata(package)
    except PackageNotFoundError:
        pytest.skip(f"{package} is not installed")
    said = " ".join(
        [
            known.get("License-Expression") or "",
            (known.get("License") or "")[:200],
            *(known.get_all("Classifier") or []),
            *_first_lines(package),
        ]
    )
    family = next(words for word, words in FAMILIES.items() if terms.startswith(word))
    assert re.search(family, said), f"{package}: {said}"


def _first_lines(package: str) -> list[str]:
    """Of the licence files, where the metadata itself says nothing."""
    kept = [file for file in files(package) or () if re.match(r"LICEN[CS]E", file.name, re.IGNORECASE)]
    return [Path(str(file.locate())).read_text(encoding="utf-8", errors="replace")[:80] for file in kept]


def test_the_project_has_a_licence_text_of_its_own() -> None:
    text = (ROOT / "LICENCE").read_text(encoding="utf-8")
    assert PROJECT["license"] == "MIT" and text.startswith("MIT License")
    assert "the reach authors" in text


def test_what_is_shipped_is_named() -> None:
    for place in re.findall(r"`(reach/[\w/]+|dem_samples|maps)`", TEXT):
        assert (ROOT / place).exists(), place
    for folder in (ROOT / "reach" / "selfcheck" / "cases").iterdir():
        assert not folder.is_dir() or folder.name in TEXT
