"""Golden files: what every recorded example gave before a change of the inside, so that it gives the same after it.

`golden.json` holds a digest of every view at every stop of every example (see `examples.py`) and of what the command
line writes; `test_golden.py` compares. The digests say that something changed, a dump says what:

    git worktree add ../before COMMIT
    (cd ../before && PYTHONPATH=server:tests:scenarios python -m golden.take --dump /tmp/before)
    PYTHONPATH=server:tests:scenarios python -m golden.take --dump /tmp/after
    diff -r /tmp/before /tmp/after

`--only EXAMPLE` dumps one example alone. COMMIT is the last one at which the test passed.

**When golden.json may be written again** (`python -m golden.take --write`): only when behaviour is changed on purpose,
in the commit that changes it, and that commit's message says which frames change and why. A change of the inside alone
never writes it; where it makes the test fail, the change is wrong. `door.py` is the one file here that knows the
inside and has to follow it. An example or a view that is new adds lines and leaves all others as they are.

The first golden.json was made from the commit before heats and divisions were worked on apart from one another: it says
what the program gave then, not what is right. What is right is tested elsewhere, against sources.
"""
