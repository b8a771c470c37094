"""Every command has help and stands in the README; nothing in the README is missing from the command."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reports.command.main import COMMANDS, main, make_parser

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main([command, "--help"])
    assert stopped.value.code == 0
    out = capsys.readouterr().out
    assert f"whatstays {command}" in out
    options = re.findall(r"^  (-[-\w]+|[A-Za-z][\w.]*)\b.*$", out, re.MULTILINE)
    assert len(options) >= 2


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_option_says_what_it_is_for(command: str) -> None:
    subparsers = next(action for action in make_parser()._actions if hasattr(action, "choices") and action.choices)
    assert subparsers.choices is not None
    for action in subparsers.choices[command]._actions:  # type: ignore[index,call-overload]
        assert action.help, (command, action.dest)


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_command_stands_in_the_readme(command: str) -> None:
    assert re.search(rf"whatstays {re.escape(command)}\b", README), f"README.md does not show whatstays {command}"


def test_the_readme_shows_no_command_there_is_not() -> None:
    # inside backquotes and sh blocks only: prose also says "whatstays answers"
    shown = set(
        re.findall(r"[`/$ ]whatstays ([a-z-]+)", "\n".join(re.findall(r"`[^`]+`|^\$ .*$", README, re.MULTILINE)))
    )
    assert shown
    assert shown <= set(COMMANDS)


def test_options_in_the_readme_exist(capsys: pytest.CaptureFixture[str]) -> None:
    for command, options in re.findall(r"`whatstays ([a-z-]+)([^`]*)`", README):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        known = capsys.readouterr().out
        for option in re.findall(r"--[a-z-]+", options):
            assert option in known, (command, option)


def test_the_readme_has_its_two_commands_as_one_line_each() -> None:
    for heading in ("Run it", "Test it"):
        (block,) = re.findall(rf"^## {heading}\n\n```sh\n(.*?)```", README, re.MULTILINE | re.DOTALL)
        assert len(block.strip().splitlines()) == 1


@pytest.mark.parametrize("arguments", [[], ["nonsense"], ["answer"], ["pool"], ["build", "--workers", "many"]])
def test_a_wrong_command_line_is_the_input_s_fault(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: whatstays" in capsys.readouterr().err


def test_the_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert re.fullmatch(r"whatstays \d+\.\d+\.\d+\S*\n", capsys.readouterr().out)
