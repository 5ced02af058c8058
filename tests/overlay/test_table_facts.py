"""What the table's page sends against what the server reads."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

from tallywire.core.facts import LaneFact
from tallywire.wire.fact_lines import read_fact

HERE = Path(__file__).parent


def test_every_action_of_the_table_is_a_fact_the_server_reads() -> None:
    """Each action, with its fields filled in, makes a fact that passes the server's rules and names its lane."""
    node = subprocess.run(["node", HERE / "table_drafts.js"], capture_output=True, text=True, check=True)
    facts = [read_fact(data) for data in json.loads(node.stdout)]
    assert len({fact.id for fact in facts}) == len(facts) == 21
    assert {fact.lane for fact in facts if isinstance(fact, LaneFact)} == {4}
