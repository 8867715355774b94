from __future__ import annotations

import subprocess
import sys

import boxwright as bw


def test_every_public_name_is_there() -> None:
    for name in bw.__all__:
        assert getattr(bw, name) is not None
    assert set(bw.__all__) <= set(dir(bw))


def test_the_list_and_the_table_agree() -> None:
    assert sorted(bw.__all__) == sorted(bw._HOME)


def test_an_unknown_name_is_an_attribute_error() -> None:
    assert not hasattr(bw, "no_such_thing")


def test_importing_costs_nothing() -> None:
    heavy = "{'numpy', 'numba', 'scipy', 'pydantic', 'matplotlib'}"
    code = f"import sys, boxwright; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
