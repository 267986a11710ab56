"""`companion triage FILE`: the printed verdict, and one line with exit 2 for each kind of wrong input."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from companion.cli import main

VECTORS = Path(__file__).resolve().parents[1] / "vectors" / "triage_cases.json"
CASES = json.loads(VECTORS.read_text(encoding="utf-8"))["cases"]


@pytest.fixture
def triage(tmp_path, capsys):
    """Write an answers file, run the command, return exit status and both outputs."""

    def run(content, *more):
        file = tmp_path / "answers.json"
        if isinstance(content, bytes):
            file.write_bytes(content)
        else:
            file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
        status = main(["triage", str(file), *more])
        return status, *capsys.readouterr()

    return run


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_H1_each_story_gets_its_level_through_the_command(triage, case):
    status, out, err = triage(case["answers"])
    assert (status, err) == (0, "")
    assert json.loads(out)["level"] == case["expected_level"]


def test_the_verdict_has_the_contract_s_shape(triage):
    _, out, _ = triage({"right": {"pain": "moderate"}})
    verdict = json.loads(out)
    assert list(verdict) == ["level", "eyes", "rules", "lens", "wear_hold", "advice", "rules_version"]
    assert verdict["level"] == 4
    assert verdict["eyes"] == {"right": 4, "left": 1}
    assert verdict["rules"] == ["R402", "R202"]
    assert verdict["lens"] == {"right": "take_out", "left": "none"}
    assert verdict["wear_hold"] == {"right": True, "left": False}
    assert "no_lens_back" in verdict["advice"]
    assert isinstance(verdict["rules_version"], str)


def test_a_cold_holds_both_eyes_by_default(triage):
    _, out, _ = triage({"general": {"cold_ill": "yes"}})
    assert json.loads(out)["wear_hold"] == {"right": True, "left": True}


def test_the_same_answers_give_the_same_bytes(tmp_path):
    file = tmp_path / "answers.json"
    file.write_text('{"left": {"redness": "red", "light": "unsure"}, "general": {"hygiene": "water"}}')
    code = "import sys; from companion.cli import main; sys.exit(main(['triage', sys.argv[1]]))"
    runs = [
        subprocess.run(
            [sys.executable, "-c", code, file], capture_output=True, check=True, env={"PYTHONHASHSEED": seed}
        )
        for seed in ("1", "2")
    ]
    assert runs[0].stdout == runs[1].stdout
    assert [run.stderr for run in runs] == [b"", b""]


@pytest.mark.parametrize(
    ("content", "field"),
    [
        ("", "ANSWERS"),
        ("not json", "ANSWERS"),
        ('{"right": {"pain": "mild"}', "ANSWERS"),
        ("[" * 100_000, "ANSWERS"),
        (b"\xff\xfe\x00", "ANSWERS"),
        ("[]", "answers"),
        ("null", "answers"),
        ("true", "answers"),
        ('"right"', "answers"),
        ("3", "answers"),
        ({"both": {}}, "both"),
        ({"right": None}, "right"),
        ({"left": []}, "left"),
        ({"general": "yes"}, "general"),
        ({"right": {"pain": None}}, "right.pain"),
        ({"right": {"spot": True}}, "right.spot"),
        ({"right": {"spot": False}}, "right.spot"),
        ({"right": {"pain": 2}}, "right.pain"),
        ('{"right": {"pain": NaN}}', "right.pain"),
        ({"right": {"pain": ["mild"]}}, "right.pain"),
        ({"right": {"pain": {"is": "mild"}}}, "right.pain"),
        ({"right": {"pain": "agony"}}, "right.pain"),
        ({"right": {"pain": "MILD"}}, "right.pain"),
        ({"right": {"pain": ""}}, "right.pain"),
        ({"right": {"pains": "mild"}}, "right.pains"),
        ({"right": {"fever": "yes"}}, "right.fever"),
        ({"general": {"pain": "mild"}}, "general.pain"),
        ('{"right": {"pain": "severe", "pain": "none"}}', "pain"),
        ('{"right": {"pain": "severe"}, "right": {}}', "right"),
        ({"ri\nght": {}}, "ri\\nght"),
        ({"right": {"pa\nin": "mild"}}, "right.pa\\nin"),
        ({"": {}}, "answers"),
    ],
)
def test_wrong_input_is_one_line_and_exit_2(triage, content, field):
    status, out, err = triage(content)
    assert (status, out) == (2, "")
    assert re.fullmatch(rf"companion: {re.escape(field)}: [^\n]+\n", err), err


def test_an_unreadable_file_an_extra_word_and_an_unknown_option(triage, tmp_path, capsys):
    for words in (
        ["triage", str(tmp_path / "nowhere.json")],
        ["triage", str(tmp_path)],
        ["triage", ""],
        ["triage", "a\0b"],
        ["triage"],
        ["triage", "--quick"],
    ):
        assert main(words) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert re.fullmatch(r"companion: [^\n]+: [^\n]+\n", err), err
    assert triage({}, "another")[0] == 2
