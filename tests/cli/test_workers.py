"""Who shares the work of a sweep: processes and clusters, and what becomes of them."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from optimiser.cli.workers import workers
from optimiser.errors import InputError

GRID = "scenarios/grids/cocoa_price.toml"
# Seconds that end what hangs, on any machine.
LONG = 600
RUN = "from optimiser.cli import main\n\nif __name__ == '__main__':\n    main()\n"
ROOT = Path(__file__).resolve().parents[2]
posix = pytest.mark.skipif(sys.platform == "win32", reason="signals of processes")


def started(folder, *arguments, run=RUN):
    """Return a run of the command line in a folder, its programme lying elsewhere."""
    elsewhere = folder.parent / "programme"
    elsewhere.mkdir(exist_ok=True)
    (elsewhere / "run.py").write_text(run, encoding="utf-8")
    return subprocess.Popen(
        [sys.executable, str(elsewhere / "run.py"), *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_workers_run_nothing_that_lies_in_the_folder(workspace):
    mark = "from pathlib import Path\nPath('run_by_a_stranger').touch()\n"
    for name in ("threading.py", "csv.py", "logging.py", "numpy.py"):
        (workspace / name).write_text(mark + "raise ImportError\n", encoding="utf-8")
    out, err = started(
        workspace, "sweep", GRID, "--processes", "2", "--to", "-"
    ).communicate(timeout=LONG)
    assert "30 of 30 cases answered" in err
    assert "solved here" not in err
    assert len(out.splitlines()) == 31
    assert not (workspace / "run_by_a_stranger").exists()


KILLED = RUN.replace(
    "if __name__",
    """\
import os, signal, sys, time
from optimiser.studies import sweep

def dies(programmes, costs, solve=sweep.solve):
    if "run.py" not in sys.argv[0]:
        raise AssertionError("not the programme")
    from multiprocessing import parent_process
    if parent_process() is not None:
        os.kill(os.getpid(), signal.SIGKILL)
    return solve(programmes, costs)

sweep.solve = dies

if __name__""",
)


@posix
def test_a_killed_worker_loses_no_case(workspace):
    out, err = started(
        workspace, "sweep", GRID, "--processes", "2", "--to", "-", run=KILLED
    ).communicate(timeout=LONG)
    assert "30 of 30 cases answered" in err
    assert "30 cases of lost workers solved here" in err
    assert len(out.splitlines()) == 31


SLEEPS = RUN.replace(
    "if __name__",
    """\
import os, time
from pathlib import Path
from optimiser.studies import sweep

def sleeps(programmes, costs):
    Path(f"worker_{os.getpid()}").touch()
    time.sleep(10_000)

sweep.solve = sleeps

if __name__""",
)


@posix
def test_workers_end_with_a_killed_parent(workspace):
    process = started(workspace, "sweep", GRID, "--processes", "2", run=SLEEPS)
    until = time.monotonic() + LONG
    while not list(workspace.glob("worker_*")):
        assert time.monotonic() < until
        assert process.poll() is None
        time.sleep(0.05)
    process.kill()
    # The pipe is let go by all who held it, so there is an end to read.
    process.communicate(timeout=LONG)


def test_what_all_cases_come_to_is_one_thing_in_json_and_exit_code(run, workspace):
    plain = (workspace / "catalogues/workshops/demo/prices.csv").read_text("utf-8")
    kept = [line for line in plain.splitlines() if "cocoa" not in line.casefold()]
    (workspace / "catalogues/workshops/demo/prices.csv").write_text(
        "\n".join(kept), encoding="utf-8"
    )
    told = run("sweep", "scenarios/massage_bar.toml", "--json")
    assert json.loads(told.out)["status"] == "error"
    assert told.code == 1


def test_themes_that_all_clash_are_a_clash_in_json_too(run, workspace):
    theme = '[limits]\n"cocoa butter" = { max = 1 }\n"beeswax" = { max = 0 }\n'
    (workspace / "theme.toml").write_text(f'title = "None"\n\n{theme}', "utf-8")
    told = run("variants", "scenarios/bar.toml", "--theme", "theme.toml", "--json")
    assert json.loads(told.out)["status"] == "clash"
    assert told.code == 3


def test_a_scheduler_that_is_not_there_is_told_within_seconds(monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("optimiser.cli.workers.ANSWERS", 1)
    for address in ("tcp://127.0.0.1:9", "tls://127.0.0.1:9", "nonsense://", "::"):
        start = time.monotonic()
        refused = pytest.raises(InputError, match="does not answer as a scheduler")
        with refused, workers(1, address):
            pass
        assert time.monotonic() - start < 20


class Cluster:
    """A scheduler and workers, each a process of its own, as at a command line."""

    def __init__(self, folder):
        self.folder, self.parts = folder, []
        self.file = folder / "scheduler.json"
        self.add("scheduler", "--port", "0", "--no-dashboard", "--no-show")
        until = time.monotonic() + LONG
        while not self.file.exists() or not self.file.read_text("utf-8"):
            assert time.monotonic() < until
            time.sleep(0.1)
        self.address = json.loads(self.file.read_text("utf-8"))["address"]

    def add(self, part, *options):
        """Start a part of it, and return its process."""
        command = [sys.executable, "-m", f"distributed.cli.dask_{part}"]
        command += ["--scheduler-file", str(self.file), *options]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        with (self.folder / f"{len(self.parts)}.log").open("w") as log:
            self.parts.append(
                subprocess.Popen(command, env=environment, stdout=log, stderr=log)
            )
        return self.parts[-1]

    def add_worker(self):
        """Start a worker that is one process alone, and wait until it is there."""
        from distributed import Client  # noqa: PLC0415

        worker = self.add("worker", "--no-nanny", "--no-dashboard", "--nthreads", "1")
        with Client(self.address, timeout=LONG, set_as_default=False) as client:
            client.wait_for_workers(1, timeout=LONG)
        return worker


@pytest.fixture
def cluster(tmp_path_factory):
    """Return a scheduler without workers; gone when the test is."""
    pytest.importorskip("distributed")
    made = Cluster(tmp_path_factory.mktemp("cluster"))
    yield made
    for each in reversed(made.parts):
        each.kill()
        each.wait()


def test_a_cluster_without_workers_is_told_within_seconds(cluster, monkeypatch):
    from distributed import Client  # noqa: PLC0415

    def soon(client, workers, timeout, wait=Client.wait_for_workers):
        assert timeout <= 10
        return wait(client, workers, timeout=0.2)

    monkeypatch.setattr(Client, "wait_for_workers", soon)
    refused = pytest.raises(InputError, match="has no workers")
    with refused, workers(1, cluster.address):
        pass


@posix
def test_a_cluster_gives_the_same_table(run, workspace, cluster):  # noqa: ARG001
    alone = run("sweep", GRID, "--to", "-").out
    cluster.add_worker()
    told = run("sweep", GRID, "--dask", cluster.address, "--to", "-")
    assert told.out == alone
    assert "solved here" not in told.err


@posix
@pytest.mark.parametrize("lost", ["worker", "scheduler"])
def test_a_cluster_that_dies_loses_no_case(workspace, cluster, monkeypatch, lost):
    from optimiser.cli.sweep import _groups  # noqa: PLC0415
    from optimiser.studies.sweep import sweep  # noqa: PLC0415

    monkeypatch.setattr("optimiser.studies.sweep.PATIENCE", 0.5)
    groups = list(_groups(workspace / GRID))
    worker = cluster.add_worker()
    with workers(1, cluster.address) as helped:
        dead = worker if lost == "worker" else cluster.parts[0]
        dead.kill()
        dead.wait()
        found = sweep(groups, helped.executor, None, helped.there)
    assert (len(found.cases), found.lost) == (30, 30)
    assert found.status == "answered"


def lacks():
    raise ModuleNotFoundError("No module named 'optimiser'")


@pytest.mark.parametrize(
    ("answer", "wrong"),
    [
        (lacks, "cannot do the work .*No module named 'optimiser'"),
        (lambda: "0.0.0", "is a worker with version 0.0.0"),
    ],
)
def test_workers_that_cannot_do_the_work_are_named(cluster, monkeypatch, answer, wrong):
    monkeypatch.setattr("optimiser.cli.workers._ready", answer)
    cluster.add_worker()
    with pytest.raises(InputError, match=wrong), workers(1, cluster.address):
        pass
