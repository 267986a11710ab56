"""`companion forecast` from outside: what it prints, and the one line that it says when something is wrong."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from companion.cli import main

RECORDS = Path(__file__).resolve().parents[2] / "demo_family" / "records"
MINA = str(RECORDS / "mina.json")
NOW = "2026-10-22T07:30+08:00"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    status = main(["forecast", *words])
    said = capsys.readouterr()
    return status, said.out, said.err


def process(*words: str, code: str | None = None) -> subprocess.CompletedProcess[str]:
    start = code or "import sys; from companion.cli import main; sys.exit(main())"
    return subprocess.run([sys.executable, "-c", start, *words], capture_output=True, text=True)


@pytest.mark.parametrize("name", ["mina", "tomas", "noor"])
def test_it_prints_json_and_nothing_else_twice_the_same(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    first, second = (run(capsys, str(RECORDS / f"{name}.json")) for _ in range(2))
    assert first == second
    status, out, err = first
    assert (status, err) == (0, "")
    assert out.endswith("}\n")
    assert list(json.loads(out)) == ["as_of", "eyes", "tonight", "warnings"]


def test_options_reach_the_forecast(capsys: pytest.CaptureFixture[str]) -> None:
    late, early = "2026-10-24T18:00+08:00", "2026-10-22T18:00+08:00"
    status, out, _ = run(capsys, "--at", late, MINA, "--as-of", NOW, "--at", early, "--nights", "wear,skip,wear")
    got = json.loads(out)
    assert status == 0
    assert got["as_of"] == "2026-10-22T07:30:00+08:00"
    assert [row["at"][:10] for row in got["eyes"]["right"]] == ["2026-10-24", "2026-10-22"]
    _, without, _ = run(capsys, MINA, "--as-of", NOW, "--at", late)
    worn, skipped = (one["eyes"]["right"][0]["refraction_d"]["p50"] for one in (got, json.loads(without)))
    assert worn > skipped


@pytest.mark.parametrize(
    ("words", "field"),
    [
        ((), "RECORD"),
        ((MINA, "another"), "another"),
        ((MINA, "--as-of"), "--as-of"),
        ((MINA, "--as-of", "2026-10-22T07:30"), "--as-of"),
        ((MINA, "--as-of", "now"), "--as-of"),
        ((MINA, "--at", "2026-10-22T06:00+08:00", "--as-of", NOW), "--at"),
        ((MINA, "--at", "2026-12-22T06:00+08:00", "--as-of", NOW), "--at"),
        ((MINA, "--at", "18:00"), "--at"),
        ((MINA, "--nights", "wear,sleep"), "--nights"),
        ((MINA, "--nights", ""), "--nights"),
        ((MINA, "--nights", "wear,"), "--nights"),
        ((MINA, "--nights", ",".join(["wear"] * 100)), "--nights"),
        ((MINA, "--night", "wear"), "--night"),
        ((MINA, "--verbose=3"), "--verbose"),
        ((MINA, "-x"), "-x"),
        (("no/such/file.json",), "RECORD"),
        ((str(RECORDS),), "RECORD"),
        (("bad\0name",), "RECORD"),
        ((__file__,), "RECORD"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(
    words: tuple[str, ...], field: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert err.startswith(f"companion: {field}: ")
    assert err.count("\n") == 1 and err.endswith("\n")


def broken(key: str, value: Any) -> dict[str, Any]:
    return {**json.loads(Path(MINA).read_text(encoding="utf-8")), key: value}


@pytest.mark.parametrize(
    ("content", "field"),
    [
        (json.dumps(broken("birth_year", float("nan"))), "birth_year"),
        (json.dumps(broken("line\nbreak \x1b[31m", 1)), "line\\nbreak \\x1b[31m"),
        (json.dumps(broken("\ud800", 1)), "\\ud800"),
        (json.dumps(broken("k" * 5000, 1)), "k" * 200 + "..."),
        (json.dumps(broken("symptons", [])), "symptons"),
        ("[" * 100_000, "RECORD"),
        ("", "RECORD"),
    ],
)
def test_what_a_file_holds_never_breaks_the_one_line(
    content: str, field: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "record.json"
    file.write_text(content, encoding="utf-8")
    status, out, err = run(capsys, str(file))
    assert (status, out) == (2, "")
    assert err.startswith(f"companion: {field}: ")
    assert err.count("\n") == 1 and err[:-1].isprintable()


@pytest.mark.parametrize(
    ("words", "field"),
    [((), "COMMAND"), (("forcast", MINA), "forcast"), (("--version-of-what",), "--version-of-what")],
)
def test_unknown_commands_are_one_line(
    words: tuple[str, ...], field: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"companion: {field}: ")
    assert said.err.count("\n") == 1


def test_our_own_fault_is_one_line_and_exit_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(*_: Any) -> None:
        raise ZeroDivisionError("a\nsecret path")

    monkeypatch.setattr("companion.cli.forecast.read_record", fails)
    status, out, err = run(capsys, MINA)
    assert (status, out) == (1, "")
    assert err == "companion: forecast: something went wrong on our side (ZeroDivisionError)\n"


def test_a_real_process_keeps_the_contract() -> None:
    good, bad = process("forecast", MINA), process("forecast", MINA, "--as-of", "never")
    assert (good.returncode, good.stderr) == (0, "")
    assert json.loads(good.stdout)["tonight"]["night"] == "2026-10-22"
    assert (bad.returncode, bad.stdout) == (2, "")
    assert bad.stderr.startswith("companion: --as-of: ")


def test_a_forecast_starts_quickly_for_it_loads_no_web_and_no_phrases() -> None:
    code = (
        "import sys; from companion.cli import main; main();"
        "heavy = {'flask', 'sqlalchemy', 'babel', 'pydantic'} & set(sys.modules);"
        "sys.exit(' '.join(heavy) or None)"
    )
    assert process("forecast", MINA, code=code).stderr == ""
