import re
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_the_tree_in_the_guide_for_contributors_is_the_tree_on_disk():
    text = (ROOT / "DEVELOPERS.md").read_text()
    listed = set(re.findall(r"^      (\w+(?:\.py|/))\s", text, flags=re.MULTILINE))
    package = ROOT / "src" / "studwell"
    rooms = {f"{path.name}/" for path in package.iterdir() if (path / "__init__.py").is_file()}
    modules = {path.name for path in package.glob("*.py") if not path.name.startswith("__")}
    assert listed == rooms | modules


def test_every_module_says_its_purpose_in_its_first_line():
    for path in (ROOT / "src" / "studwell").rglob("*.py"):
        first = path.read_text().splitlines()[0]
        assert first.startswith('"""') and len(first) > 20, path


def test_the_readme_opens_with_the_job_and_shows_the_two_commands():
    lines = (ROOT / "README.md").read_text().splitlines()
    assert lines[0] == "# Studwell"
    assert "stud" in lines[2]
    text = "\n".join(lines)
    assert "pip install -e '.[dev]' && studwell compare cases/hut-pump.toml" in text
    assert "\n    pytest" in text


def test_the_continuous_check_installs_exactly_as_the_readme_says():
    script = (ROOT / ".ci" / "run").read_text()
    assert "pip install -e '.[dev]' && studwell compare cases/hut-pump.toml" in script
    assert "\npytest" in script
