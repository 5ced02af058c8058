"""The longest delay of an output: the pages ask for no more than the server takes."""

from __future__ import annotations

import subprocess
from pathlib import Path

from tallywire.core.model.outputs import DELAY_MOST_MS

DELAY = Path(__file__).parents[2] / "overlay" / "shared" / "delay.js"


def test_pages_and_server_have_one_longest_delay() -> None:
    """The bound in overlay/shared/delay.js, which the desk and the on-air page use, is the server's."""
    code = f'import {{ LONGEST_DELAY_MS }} from "{DELAY}"; process.stdout.write(String(LONGEST_DELAY_MS));'
    node = subprocess.run(["node", "--input-type=module", "--eval", code], capture_output=True, text=True, check=True)
    assert int(node.stdout) == DELAY_MOST_MS
