"""The demo, run once for all tests of what it draws."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.demo_samples import few_samples
from tests.helpers.made_readings import made, put_in_place, run


@pytest.fixture(scope="session")
def invented_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """Run the demo with the two photos that its first ride needs, both refused, so that it goes by what is typed."""
    folder = tmp_path_factory.mktemp("demo")
    output, samples = folder / "out", few_samples(folder / "samples")
    with pytest.MonkeyPatch.context() as patch:
        put_in_place(patch, made())
        result = run("demo", "--output", output, "--samples", samples)
    assert result.exit_code == 0, result.output
    yield output, result.stdout
