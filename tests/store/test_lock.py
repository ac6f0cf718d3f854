"""One writer at a time, whether in another thread's hands or in another process's."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.store.lock import writing

HOLD = """
import sys, time
from pathlib import Path
from fleetlens.store.lock import writing
with writing(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def told(store: Path) -> str:
    return (
        "another load is writing to this store\n"
        f"  at: {store / 'writer.lock'}\n"
        "  try: wait until it has ended and load again; the lock goes when that load ends, so never delete the file"
    )


def test_a_second_writer_in_this_process_is_told(tmp_path: Path) -> None:
    with writing(tmp_path), pytest.raises(FleetlensError) as caught, writing(tmp_path):
        pass
    assert str(caught.value) == told(tmp_path)
    with writing(tmp_path):
        pass


def test_a_second_process_is_told_and_a_killed_one_leaves_no_lock(tmp_path: Path) -> None:
    with subprocess.Popen([sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        with pytest.raises(FleetlensError) as caught, writing(tmp_path):
            pass
        assert str(caught.value) == told(tmp_path)
        other.send_signal(signal.SIGKILL)
        other.wait()
        with writing(tmp_path):
            pass
