"""The hook for the pre-commit tool: installed by the tool itself from this source, and run on a repository of jobs."""

import json
import os
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path
from typing import Final

import pytest
from attrs import frozen

from tests.cli.running import AN_ERROR, CLEAN, CLEAN_JSON
from tests.policy.made import INVERTED
from tests.test_architecture import ROOT

SOURCE: Final = ("ventrules", "pyproject.toml", "README.md", ".pre-commit-hooks.yaml")
IDENTITY: Final = {
    f"GIT_{who}_{what}": "lane@example.org" for who in ("AUTHOR", "COMMITTER") for what in ("NAME", "EMAIL")
}


@frozen
class Repository:
    """A repository whose commits are checked by the hook."""

    folder: Path
    env: dict[str, str]

    def git(self, *args: str) -> str:
        done = subprocess.run(
            ["git", *args],  # noqa: S607 - whichever git there is
            cwd=self.folder,
            env=self.env,
            check=True,
            capture_output=True,
            text=True,
        )
        return done.stdout.strip()

    def hook(self, *names: str) -> subprocess.CompletedProcess[str]:
        """Run the hook on files."""
        return tool("run", "--verbose", "--files", *names, cwd=self.folder, env=self.env)


def tool(*args: str, cwd: Path, env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pre_commit", *args], cwd=cwd, env=env, check=False, capture_output=True, text=True
    )


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    """A repository with jobs and other files, and with the hook of this source at its present state."""
    home = tmp_path
    env = {name: value for name, value in os.environ.items() if not name.startswith(("GIT_", "PRE_COMMIT", "COV_"))}
    # What the package depends on is at hand already and is not installed once more: the tool's own environment sees it.
    env |= {
        **IDENTITY,
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_SYSTEM": os.devnull,
        "PRE_COMMIT_HOME": str(home / "home"),
        "PYTHONPATH": os.pathsep.join(dict.fromkeys([sysconfig.get_path("purelib"), sysconfig.get_path("platlib")])),
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
    }
    source, lane = Repository(home / "source", env), Repository(home / "lane", env)
    for each in (source, lane):
        each.folder.mkdir()
        each.git("init", "--quiet", ".")
    for name in SOURCE:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, source.folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, source.folder / name)
    source.git("add", "--all", "--force")
    source.git("commit", "--quiet", "--message", "source")
    revision = source.git("rev-parse", "HEAD")
    config = f"repos:\n- repo: {source.folder}\n  rev: {revision}\n  hooks:\n  - id: ventrules\n"
    (lane.folder / ".pre-commit-config.yaml").write_text(config, encoding="utf-8")
    for path, name in ((CLEAN, "sound.yaml"), (CLEAN_JSON, "sound.json"), (AN_ERROR, "faulty.yaml")):
        shutil.copy(path, lane.folder / name)
    (lane.folder / "other.yaml").write_text("color: blue\n", encoding="utf-8")
    (lane.folder / "other.json").write_text("{}\n", encoding="utf-8")
    lane.git("add", "--all")
    lane.git("commit", "--quiet", "--message", "jobs")
    return lane


def test_the_manifest_is_valid() -> None:
    done = tool("validate-manifest", str(ROOT / ".pre-commit-hooks.yaml"), cwd=ROOT, env=dict(os.environ))
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_hook_installed_by_the_tool_checks_what_is_changed(repository: Repository) -> None:
    # one test, so that the tool installs it once
    fails_for_a_faulty_job_and_passes_sound_ones_and_what_is_no_job(repository)
    keeps_to_the_policy_of_the_repository(repository)


def fails_for_a_faulty_job_and_passes_sound_ones_and_what_is_no_job(repository: Repository) -> None:
    every = [path.name for path in repository.folder.iterdir() if path.is_file()]
    faulty = repository.hook(*every)
    assert faulty.returncode == 1, faulty.stdout + faulty.stderr
    assert "Failed" in faulty.stdout
    assert INVERTED in faulty.stdout
    assert "3 files checked" in faulty.stdout
    assert all(name in " ".join(faulty.stdout.split()) for name in ("other.yaml", "other.json"))
    sound = repository.hook(*(name for name in every if name != "faulty.yaml"))
    assert sound.returncode == 0, sound.stdout + sound.stderr
    assert "2 files checked" in sound.stdout
    job = json.dumps(json.loads(CLEAN_JSON.read_text(encoding="utf-8")))
    (repository.folder / "lane.jsonl").write_text(f'{job}\n{{"ventrules": 1}}\n', encoding="utf-8")
    (repository.folder / "other.ndjson").write_text("{}\n", encoding="utf-8")
    lines = repository.hook("lane.jsonl", "other.ndjson")
    assert lines.returncode == 1, lines.stdout + lines.stderr
    assert "lane.jsonl, line 2" in lines.stdout
    assert "other.ndjson" in lines.stdout
    none = repository.hook("other.yaml", "other.json")
    assert none.returncode == 0, none.stdout + none.stderr
    assert "0 files checked" in none.stdout


def keeps_to_the_policy_of_the_repository(repository: Repository) -> None:
    policy = repository.folder / ".ventrules.toml"
    try:
        policy.write_text(f"[[accepted]]\nrule = '{INVERTED}'\nreason = 'seen'\n", encoding="utf-8")
        stands = repository.hook("faulty.yaml")
        assert stands.returncode == 0, stands.stdout + stands.stderr
        policy.write_text("leave_out = ['faulty.*']\n", encoding="utf-8")
        left_out = repository.hook("faulty.yaml", "sound.yaml")
        assert left_out.returncode == 0, left_out.stdout + left_out.stderr
        assert "1 file checked" in left_out.stdout
        policy.write_text("fail_att = 'error'\n", encoding="utf-8")
        broken = repository.hook("sound.yaml")
        assert broken.returncode == 1
        assert "nearest is 'fail_at'" in broken.stdout
    finally:
        policy.unlink()
