"""What the documents promise exists: commands, options, settings, files."""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class

from locates.management.commands import bench

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = ["README.md", "DEVELOPERS.md"]
BEFORE_DJANGO = {"test"}
# Reads of the environment that the settings' table need not list: the tests' own switches.
INTERNAL = {"TEST_DATABASE_FILE"}


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def promised_commands() -> list[tuple[str, str, str]]:
    found = []
    for name in DOCUMENTS:
        for match in re.finditer(r"manage\.py ([a-z_]+)([^`\n]*)", text_of(name)):
            found.append((name, match[1], match[2]))
    return found


def test_the_documents_name_the_two_commands_first() -> None:
    commands = [command for name, command, _ in promised_commands() if name == "README.md"]
    assert commands[:2] == ["demo", "test"]


@pytest.mark.parametrize(("document", "command", "rest"), promised_commands())
def test_every_promised_command_and_option_exists(document: str, command: str, rest: str) -> None:
    if command in BEFORE_DJANGO:
        return
    assert command in get_commands(), f"{document} promises manage.py {command}"
    known = options_of_benchmark(rest) if command == "bench" else options_of(command)
    for option in re.findall(r"(?<!\S)--[a-z-]+", rest):
        assert option in known, f"{document}: manage.py {command} has no {option}"


def options_of(command: str) -> set[str]:
    parser = load_command_class(get_commands()[command], command).create_parser("manage.py", command)
    return set(parser._option_string_actions)


def options_of_benchmark(rest: str) -> set[str]:
    """Each benchmark reads its own arguments; what its help says is what it takes."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), pytest.raises(SystemExit):
        bench.run(rest.split()[0], ["--help"])
    return set(re.findall(r"--[a-z-]+", said.getvalue()))


def test_the_demo_has_the_options_that_the_readme_names() -> None:
    parser = load_command_class("locates", "demo").create_parser("manage.py", "demo")
    for option in ("--port", "--fresh", "--no-server"):
        assert option in text_of("README.md")
        assert option in parser._option_string_actions


def test_every_setting_read_is_documented_and_every_documented_one_is_read() -> None:
    source = text_of("locates/settings.py")
    read = set(re.findall(r'(?:environ\.get\(|env_[a-z]+\()"([A-Z_]+)"', source)) - INTERNAL
    assert "SECRET_KEY" in read
    table = text_of("DEVELOPERS.md").partition("## Settings")[2].partition("\n## ")[0]
    documented = set(re.findall(r"^\| `([A-Z_]+)` \|", table, flags=re.MULTILINE))
    assert documented == read


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_file_named_exists(name: str) -> None:
    rooms = r"(?:locates|tickets|crews|tests|fixtures|\.ci)/[\w./-]+"
    named = set(re.findall(f"`({rooms})`", text_of(name)))
    missing = [path for path in named if not any((ROOT / (path + end)).exists() for end in ("", ".py"))]
    # The map of the house may name a room that is still to be built.
    assert set(missing) <= {"locates/field"}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_nothing_of_one_machine_is_written_down(name: str) -> None:
    assert re.findall(r"(?<![\w.])/(?:work|root|home|tmp)/", text_of(name)) == []
